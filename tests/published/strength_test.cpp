// Colour strength and coverage against worked values of the trade.
#include "colour/strength.hpp"

#include <cmath>

#include <catch2/catch.hpp>

#include <inkwane/colour.hpp>

using namespace inkwane;
using Catch::Matchers::WithinAbs;

// Source: Kubelka–Munk for an opaque layer as the textile trade uses it, K/S = (1 − R)² / 2R;
// formula from memory, values worked by hand from it: .45²/1.10, .5²/1, .9²/.2, .1²/1.8.
TEST_CASE("K/S of four reflectances, and back") {
  const double worked[][2] = {{0.55, 0.1841}, {0.50, 0.25}, {0.10, 4.05}, {0.90, 0.00556}};
  for (const auto& [reflectance, ks] : worked) {
    CHECK_THAT(colour::ks_from_reflectance(reflectance), WithinAbs(ks, 5e-5));
    CHECK_THAT(colour::reflectance_from_ks(colour::ks_from_reflectance(reflectance)),
               WithinAbs(reflectance, 1e-12));
  }
}

// Source: Murray and Davies, J. Franklin Inst. 221, 1936, and Yule and Nielsen, TAGA Proc. 1951, by
// their formulas, from memory; n = 1.7 where it is not known (Pearson 1981, as cited by an
// encyclopedia of colour). Net densities .30 and 1.50, worked: (1 − 10^−.30) / (1 − 10^−1.50).
TEST_CASE("dot area from density, Murray–Davies and Yule–Nielsen") {
  CHECK_THAT(colour::coverage_from_density(0.30, 1.50), WithinAbs(0.5151, 5e-5));
  CHECK_THAT(colour::coverage_from_density(0.30, 1.50, 1.7), WithinAbs(0.3843, 5e-5));
  CHECK_THAT(colour::coverage_from_density(0.30, 1.50, 2), WithinAbs(0.3552, 5e-5));
  CHECK_THAT(colour::density(0.5), WithinAbs(0.30103, 1e-5));  // log10 2, any table
}

// Source: worked from ISO/CIE 11664-4. Half the sheet at Y .80 and half at .05: the lightness of
// the mean light is not the mean lightness, 12 L* apart, and only the first is what the eye sees.
TEST_CASE("a 50 % screen: light is averaged, never Lab") {
  const auto lightness = [](double Y) {
    return to_lab({kWhiteD50.X * Y, kWhiteD50.Y * Y, kWhiteD50.Z * Y}).L;
  };
  CHECK_THAT(lightness((0.80 + 0.05) / 2), WithinAbs(71.21, 0.005));
  CHECK_THAT((lightness(0.80) + lightness(0.05)) / 2, WithinAbs(59.21, 0.005));
}
