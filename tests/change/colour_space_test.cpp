// The float arithmetic of the maps against the scalar truth of the colour room.
#include "change/colour_space.hpp"

#include <cmath>
#include <limits>
#include <random>

#include <catch2/catch.hpp>

#include "colour/strength.hpp"

using namespace inkwane;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

/// A row of colours through XYZ, sharpened RGB and back to Lab.
void convert(const std::vector<LabD50>& colours, change::Row3& lab) {
  const int n = static_cast<int>(colours.size());
  std::vector<float> xyz;
  for (const LabD50& c : colours) {
    const XyzD50 v = to_xyz(c);
    for (const double t : {v.X, v.Y, v.Z}) xyz.push_back(static_cast<float>(t));
  }
  change::Row3 sharp;
  sharp.resize(n);
  lab.resize(n);
  change::sharpen_row(xyz.data(), n, sharp);
  change::lab_row(sharp, n, lab);
}

}  // namespace

TEST_CASE("CIEDE2000 in rows agrees with the scalar formula") {
  // Colours of print and scans; half of the pairs close together, as unchanged cells are.
  std::mt19937_64 bits(1931);
  std::uniform_real_distribution<double> L(0, 100), ab(-100, 100), near(-3, 3);
  std::vector<LabD50> one, two;
  for (int i = 0; i < 400'000; ++i) {
    one.push_back({L(bits), ab(bits), ab(bits)});
    if (i % 2 == 0) {
      two.push_back({L(bits), ab(bits), ab(bits)});
    } else {
      two.push_back(
          {one.back().L + near(bits), one.back().a + near(bits), one.back().b + near(bits)});
    }
  }
  const int n = static_cast<int>(one.size());
  change::Row3 a, b;
  a.resize(n), b.resize(n);
  for (int i = 0; i < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    const double p[3] = {one[k].L, one[k].a, one[k].b}, q[3] = {two[k].L, two[k].a, two[k].b};
    for (int c = 0; c < 3; ++c)
      a[c][i] = static_cast<float>(p[c]), b[c][i] = static_cast<float>(q[c]);
  }
  std::vector<float> out(one.size());
  change::delta_e_row(a, b, n, out.data());
  double worst = 0, worst_near = 0;
  for (std::size_t i = 0; i < one.size(); ++i) {
    // At opposite hues the mean hue jumps by half a turn; a float cannot tell on which side it is.
    const double turn = std::abs(hue_degrees(one[i]) - hue_degrees(two[i]));
    if (std::abs(turn - 180) < 1) continue;
    const double off = std::abs(static_cast<double>(out[i]) - ciede2000(one[i], two[i]));
    (i % 2 == 0 ? worst : worst_near) = std::max(i % 2 == 0 ? worst : worst_near, off);
  }
  INFO("largest error " << worst << ", of near pairs " << worst_near);
  CHECK(worst < 0.01);
  CHECK(worst_near < 0.001);
}

TEST_CASE("CIEDE2000 in rows keeps the published branches") {
  // Sharma, Wu, Dalal (2005), Table 1: pairs 1, 7, 9, 11, 13, 17, 34.
  const std::vector<std::array<double, 7>> rows{
      {50, 2.6772, -79.7751, 50, 0, -82.7485, 2.0425},
      {50, 0, 0, 50, -1, 2, 2.3669},
      {50, 2.49, -0.001, 50, -2.49, 0.0009, 7.1792},
      {50, 2.49, -0.001, 50, -2.49, 0.0011, 7.2195},
      {50, -0.001, 2.49, 50, 0.0009, -2.49, 4.8045},
      {50, 2.5, 0, 73, 25, -18, 27.1492},
      {2.0776, 0.0795, -1.135, 0.9033, -0.0636, -0.5514, 0.9082}};
  for (const auto& r : rows) {
    change::Row3 a, b;
    a.resize(1), b.resize(1);
    for (std::size_t c = 0; c < 3; ++c)
      a[static_cast<int>(c)][0] = static_cast<float>(r[c]),
      b[static_cast<int>(c)][0] = static_cast<float>(r[c + 3]);
    float out = 0;
    change::delta_e_row(a, b, 1, &out);
    // Opposite hues that differ by less than a float tells may take the other side of the branch.
    CHECK_THAT(static_cast<double>(out),
               WithinAbs(r[6], std::abs(r[6] - 7.2) < 0.03 ? 0.05 : 0.002));
  }
}

TEST_CASE("Lab of rows agrees with the scalar formula, and what was not measured stays so") {
  std::vector<LabD50> colours;
  for (double L = 1; L < 100; L += 7) {
    for (double a = -60; a <= 60; a += 20) {
      for (double b = -60; b <= 60; b += 20) colours.push_back({L, a, b});
    }
  }
  change::Row3 lab;
  convert(colours, lab);
  double worst = 0;
  for (std::size_t i = 0; i < colours.size(); ++i) {
    const int k = static_cast<int>(i);
    worst = std::max({worst, std::abs(static_cast<double>(lab[0][k]) - colours[i].L),
                      std::abs(static_cast<double>(lab[1][k]) - colours[i].a),
                      std::abs(static_cast<double>(lab[2][k]) - colours[i].b)});
  }
  CHECK(worst < 0.01);  // float rounding of three subtractions of numbers up to 500

  const float nothing[3] = {std::numeric_limits<float>::quiet_NaN(), 0.5F, 0.5F};
  change::Row3 sharp, none;
  sharp.resize(1), none.resize(1);
  change::sharpen_row(nothing, 1, sharp);
  change::lab_row(sharp, 1, none);
  float difference = 0;
  change::delta_e_row(none, none, 1, &difference);
  CHECK(std::isnan(difference));
}

TEST_CASE("Float K/S is the colour room's") {
  for (const double r : {0.0005, 0.002, 0.1, 0.5, 0.55, 0.9, 1.0}) {
    CHECK_THAT(static_cast<double>(change::ks(static_cast<float>(r))),
               WithinRel(colour::ks_from_reflectance(r), 1e-4) ||
                   WithinAbs(colour::ks_from_reflectance(r), 1e-6));
  }
  for (const double q : {0.0, 0.01, 0.25, 4.05, 100.0}) {
    CHECK_THAT(static_cast<double>(change::reflectance(static_cast<float>(q))),
               WithinRel(colour::reflectance_from_ks(q), 1e-5));
  }
  CHECK_THAT(
      static_cast<double>(change::ks_slope(0.5F)),
      WithinAbs((colour::ks_from_reflectance(0.499) - colour::ks_from_reflectance(0.501)) / 0.002,
                1e-3));
}

TEST_CASE("Sharpened RGB is 1 on the white") {
  const Eigen::Vector3d white = change::sharpened(kWhiteD50);
  for (int c = 0; c < 3; ++c) CHECK_THAT(white[c], WithinAbs(1, 1e-12));
}
