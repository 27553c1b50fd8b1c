// Pairs of Lab colours on which CIEDE2000 is hard to get right, for its test and its benchmark.
#pragma once

#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include <inkwane/colour.hpp>

namespace inkwane::test {

/// Six planes of float: L*, a*, b* of the first colours, then of the second.
struct Pairs {
  std::array<std::vector<float>, 6> planes;
  void add(const LabD50& one, const LabD50& two) {
    const std::array<double, 6> values{one.L, one.a, one.b, two.L, two.a, two.b};
    for (std::size_t i = 0; i < 6; ++i) planes[i].push_back(static_cast<float>(values[i]));
  }
  [[nodiscard]] std::size_t size() const { return planes[0].size(); }
  [[nodiscard]] LabD50 one(std::size_t i) const { return at(0, i); }
  [[nodiscard]] LabD50 two(std::size_t i) const { return at(3, i); }
  [[nodiscard]] std::array<const float*, 3> ones() const {
    return {planes[0].data(), planes[1].data(), planes[2].data()};
  }
  [[nodiscard]] std::array<const float*, 3> twos() const {
    return {planes[3].data(), planes[4].data(), planes[5].data()};
  }

 private:
  [[nodiscard]] LabD50 at(std::size_t first, std::size_t i) const {
    return {double{planes[first][i]}, double{planes[first + 1][i]}, double{planes[first + 2][i]}};
  }
};

inline const std::vector<std::string> kPairKinds{
    "uniform", "near neutral",        "hue wrap",   "opposite hues", "blue",
    "small",   "published, jittered", "tiny chroma"};

/// `count` seeded pairs of one kind.
inline Pairs make_pairs(const std::string& kind, std::size_t count, std::uint64_t seed = 2005) {
  std::mt19937_64 bits(seed);
  const auto within = [&bits](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(bits);
  };
  const auto polar = [](double L, double chroma, double hue) {
    return LabD50{L, chroma * std::cos(hue), chroma * std::sin(hue)};
  };
  const auto box = [&](double most) {
    return LabD50{within(0, 100), within(-most, most), within(-most, most)};
  };
  const auto moved = [&](const LabD50& lab, double by) {
    return LabD50{lab.L + within(-by, by), lab.a + within(-by, by), lab.b + within(-by, by)};
  };
  // Sharma, Wu, Dalal (2005), Table 1: pairs 1, 7, 9, 11, 13, 15, 16, 19, 34, at the branches.
  const std::vector<std::array<LabD50, 2>> published{
      {LabD50{50, 2.6772, -79.7751}, LabD50{50, 0, -82.7485}},
      {LabD50{50, 0, 0}, LabD50{50, -1, 2}},
      {LabD50{50, 2.49, -0.001}, LabD50{50, -2.49, 0.0009}},
      {LabD50{50, 2.49, -0.001}, LabD50{50, -2.49, 0.0011}},
      {LabD50{50, -0.001, 2.49}, LabD50{50, 0.0009, -2.49}},
      {LabD50{50, -0.001, 2.49}, LabD50{50, 0.0011, -2.49}},
      {LabD50{50, 2.5, 0}, LabD50{50, 0, -2.5}},
      {LabD50{50, 2.5, 0}, LabD50{56, -27, -3}},
      {LabD50{2.0776, 0.0795, -1.135}, LabD50{0.9033, -0.0636, -0.5514}}};
  Pairs pairs;
  for (std::size_t i = 0; i < count; ++i) {
    LabD50 one = box(128), two = box(128);
    if (kind == "near neutral") one = box(2), two = box(2);
    if (kind == "hue wrap") {
      one = polar(one.L, within(0, 128), within(-0.1, 0.1));
      two = polar(two.L, within(0, 128), within(-0.1, 0.1));
    }
    if (kind == "opposite hues" && i % 2 == 0) {  // to within 1e-7 to 0.1 rad
      const double hue = within(-std::numbers::pi, std::numbers::pi);
      const double off = within(-1, 1) * std::pow(10, within(-7, -1));
      one = polar(one.L, within(0, 128), hue);
      two = polar(two.L, within(0, 128), hue + std::numbers::pi + off);
    }
    if (kind == "opposite hues" && i % 2 == 1) {  // exactly: powers of two do not round
      one = {one.L, double{static_cast<float>(one.a / 4)}, double{static_cast<float>(one.b / 4)}};
      if (i % 16 == 1) one.a = 0;
      if (i % 16 == 3) one.b = 0;
      const double factor = std::exp2(static_cast<double>(i % 5) - 2);
      two = {two.L, -factor * one.a, -factor * one.b};
    }
    if (kind == "blue") {
      one = {one.L, within(-20, 60), within(-128, -40)};
      two = {two.L, within(-20, 60), within(-128, -40)};
    }
    if (kind == "small") two = moved(one, 1);
    if (kind == "published, jittered") {
      const auto& pair = published[i % published.size()];
      const double by = std::pow(10, within(-6, 0));
      one = moved(pair[0], by), two = moved(pair[1], by);
    }
    if (kind == "tiny chroma") {
      const double scale = std::pow(10, within(-6, 0)) / 128;
      one.a *= scale, one.b *= scale, two.a *= scale, two.b *= scale;
    }
    pairs.add(one, two);
  }
  return pairs;
}

/// By the scalar formula.
inline std::vector<double> truth_of(const Pairs& pairs) {
  std::vector<double> truth;
  for (std::size_t i = 0; i < pairs.size(); ++i)
    truth.push_back(ciede2000(pairs.one(i), pairs.two(i)));
  return truth;
}

/// Largest distance of `fast` from it; not a number if any is none.
inline double largest_error(const std::vector<double>& truth, const std::vector<float>& fast) {
  double worst = 0;
  for (std::size_t i = 0; i < truth.size(); ++i) {
    const double error = std::abs(double{fast[i]} - truth[i]);
    if (!(error <= worst)) worst = error;
    if (std::isnan(error)) return error;
  }
  return worst;
}

}  // namespace inkwane::test
