#include "target/mixing.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>

#include "target/metric.hpp"

namespace inkwane::target {
namespace {

/// Cube root of x > 0 to single precision: a third of the exponent as a first guess (to 5 %), then
/// Halley's iteration, which triples the digits each time. Unlike std::cbrt it can run in lanes.
inline float cube_root(float x) {
  const auto bits = std::bit_cast<std::int32_t>(x);
  const auto third = static_cast<std::int32_t>(static_cast<float>(bits) * (1.0f / 3.0f));
  auto y = std::bit_cast<float>(third + 0x2a514067);
  for (int i = 0; i < 2; ++i) {
    const float cube = y * y * y;
    y *= (cube + 2 * x) / (2 * cube + x);
  }
  return y;
}

}  // namespace

Mixing::Mixing(const Parameters& p, int terms) : terms_(terms) {
  // φ's terms less their grey parts: a product's weights go to the products, and come off the
  // linear terms in the shares that make it vanish on grey (model.cpp).
  constexpr int kPairs[9][2] = {{0, 1}, {0, 2}, {1, 2}, {0, 1}, {2, 1},
                                {0, 2}, {1, 0}, {1, 2}, {2, 0}};
  const Eigen::Vector3d white = vector_of(kWhiteD50);
  for (int k = 0; k < 3; ++k) {
    Terms row = p.segment<kTerms>(kMixing + k * kTerms) * white[k];
    for (int t = 3; t < 12; ++t) {
      const double first = t < 6 ? 1.0 / 2 : 1.0 / 3;
      row[kPairs[t - 3][0]] -= first * row[t];
      row[kPairs[t - 3][1]] -= (1 - first) * row[t];
    }
    for (int c = 0; c < 3; ++c) row[c] -= row[12] / 3;
    for (int t = 0; t < kTerms; ++t) rows_[k][t] = static_cast<float>(row[t]);
    offset_[k] = static_cast<float>(p[kOffset + k] * white[k]);
  }
}

void Mixing::apply(const float* light, float* xyz, std::size_t cells) const {
  std::array<Plane, 3> in{}, out{};
  for (std::size_t start = 0; start < cells; start += kBlock) {
    const std::size_t n = std::min(kBlock, cells - start);
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t c = 0; c < 3; ++c) in[c][i] = light[3 * (start + i) + c];
    }
    mix_block(in, out);
    for (std::size_t i = 0; i < n; ++i) {
      const bool known = !std::isnan(in[0][i] + in[1][i] + in[2][i]);
      for (std::size_t c = 0; c < 3; ++c) {
        xyz[3 * (start + i) + c] = known ? out[c][i] : std::numeric_limits<float>::quiet_NaN();
      }
    }
  }
}

void Mixing::mix_block(const std::array<Plane, 3>& light, std::array<Plane, 3>& xyz) const {
  constexpr auto kLeast = static_cast<float>(kLeastLight);
  for (std::size_t k = 0; k < 3; ++k) {
    const auto& m = rows_[k];
    for (std::size_t i = 0; i < kBlock; ++i) {
      xyz[k][i] = offset_[k] + m[0] * std::max(light[0][i], kLeast) +
                  m[1] * std::max(light[1][i], kLeast) + m[2] * std::max(light[2][i], kLeast);
    }
  }
  if (terms_ <= 3) return;
  for (std::size_t i = 0; i < kBlock; ++i) {
    const float r = std::sqrt(std::max(light[0][i], kLeast));
    const float g = std::sqrt(std::max(light[1][i], kLeast));
    const float b = std::sqrt(std::max(light[2][i], kLeast));
    const float rg = r * g, rb = r * b, gb = g * b;
    for (std::size_t k = 0; k < 3; ++k) {
      const auto& m = rows_[k];
      xyz[k][i] += m[3] * rg + m[4] * rb + m[5] * gb;
    }
  }
  if (terms_ <= 6) return;
  for (std::size_t i = 0; i < kBlock; ++i) {
    const float r = cube_root(std::max(light[0][i], kLeast));
    const float g = cube_root(std::max(light[1][i], kLeast));
    const float b = cube_root(std::max(light[2][i], kLeast));
    const float rr = r * r, gg = g * g, bb = b * b;
    for (std::size_t k = 0; k < 3; ++k) {
      const auto& m = rows_[k];
      xyz[k][i] += m[6] * r * gg + m[7] * b * gg + m[8] * r * bb + m[9] * g * rr + m[10] * g * bb +
                   m[11] * b * rr + m[12] * r * g * b;
    }
  }
}

}  // namespace inkwane::target
