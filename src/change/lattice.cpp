#include "change/lattice.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace inkwane::change {
namespace {

/// Blocks of JPEG: a lattice at a multiple of ⅛ cycle a pixel along the pixels' own axes.
constexpr double kBlock = 1.0 / 8, kBlockWithin = 0.0015;
constexpr int kHarmonics = 4;             // of a lattice that may be taken for another
constexpr int kCombinations = 2;          // of two lattices
constexpr double kFinestOvertone = 0.75;  // cycles a pixel

}  // namespace

double Lattice::frequency() const {
  return std::sqrt(k[0].norm() * k[1].norm());
}

double Lattice::angle_degrees() const {
  double angle = std::atan2(k[0][1], k[0][0]) * 180 / std::numbers::pi;
  angle -= 90 * std::floor(angle / 90);
  return angle;
}

Peak wrapped(const Peak& k) {
  return {k[0] - std::round(k[0]), k[1] - std::round(k[1])};
}
Peak turned(const Peak& k) {
  return {-k[1], k[0]};
}

std::vector<Peak> harmonics(const std::vector<Lattice>& lattices) {
  std::vector<Peak> result;
  for (const Lattice& l : lattices) {
    for (int n = -kHarmonics; n <= kHarmonics; ++n) {
      for (int m = -kHarmonics; m <= kHarmonics; ++m) {
        const Peak k = n * l.k[0] + m * l.k[1];
        if ((n != 0 || m != 0) && k.norm() < kFinestOvertone) result.push_back(wrapped(k));
      }
    }
  }
  return result;
}

void add_images(std::vector<Peak>& peaks) {
  const std::size_t count = peaks.size();
  for (const Peak& half : {Peak(0.5, 0), Peak(0, 0.5), Peak(0.5, 0.5)}) {
    for (std::size_t i = 0; i < count; ++i) peaks.push_back(wrapped(Peak(peaks[i] + half)));
  }
}

std::vector<Peak> mixtures(const std::vector<Lattice>& lattices) {
  std::vector<Peak> result;
  if (lattices.size() < 2) return result;
  const int most = kCombinations;
  for (int n = -most; n <= most; ++n) {
    for (int m = -most; m <= most; ++m) {
      for (int p = -most; p <= most; ++p) {
        for (int q = -most; q <= most; ++q) {
          if ((n == 0 && m == 0) || (p == 0 && q == 0)) continue;
          const Peak k = n * lattices[0].k[0] + m * lattices[0].k[1] + p * lattices[1].k[0] +
                         q * lattices[1].k[1];
          if (k.norm() < kFinestOvertone) result.push_back(wrapped(k));
        }
      }
    }
  }
  return result;
}

bool near(const std::vector<Peak>& peaks, const Peak& k, double apart) {
  return std::any_of(peaks.begin(), peaks.end(),
                     [&](const Peak& p) { return (k - p).norm() < apart; });
}

bool of_blocks(const Peak& k) {
  const double x = std::abs(k[0]), y = std::abs(k[1]);
  const double off = std::min(x, y), on = std::max(x, y);
  return off < kBlockWithin && std::abs(on - kBlock * std::round(on / kBlock)) < kBlockWithin;
}

}  // namespace inkwane::change
