// Protects: the eye's weightings at, between and beyond their entries, and their means over a band.
#include "bath/weighting.hpp"

#include <cmath>

#include <catch2/catch.hpp>

using namespace inkwane::bath;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

TEST_CASE("weightings at their entries") {
  CHECK_THAT(luminous_efficiency(450), WithinAbs(0.038, 1e-12));
  CHECK_THAT(luminous_efficiency(455), WithinAbs(0.048, 1e-12));
  CHECK_THAT(luminous_efficiency(460), WithinAbs(0.060, 1e-12));
  CHECK_THAT(luminous_efficiency(555), WithinAbs(1, 1e-12));
  CHECK_THAT(luminous_efficiency(780), WithinAbs(0.000015, 1e-12));
  CHECK_THAT(blue_light_hazard(450), WithinAbs(0.94, 1e-12));
  CHECK_THAT(blue_light_hazard(455), WithinAbs(0.90, 1e-12));
  CHECK_THAT(blue_light_hazard(460), WithinAbs(0.80, 1e-12));
  CHECK_THAT(blue_light_hazard(550), WithinAbs(0.01, 1e-12));
  CHECK_THAT(blue_light_hazard(650), WithinAbs(0.001, 1e-12));
}

TEST_CASE("between entries they lie between, beyond the tables they are nought") {
  for (double nm = 382.5; nm < 550; nm += 5) {
    CHECK(luminous_efficiency(nm) > luminous_efficiency(nm - 2.5));
    CHECK(luminous_efficiency(nm) < luminous_efficiency(nm + 2.5));
  }
  // 500 nm is where the table ends and the formula begins: 10^((450 − 500)/50) = 0.1.
  CHECK_THAT(blue_light_hazard(500.0001), WithinRel(blue_light_hazard(500), 1e-4));
  for (const double nm : {299.0, 701.0}) CHECK(blue_light_hazard(nm) == 0);
  for (const double nm : {379.0, 781.0}) CHECK(luminous_efficiency(nm) == 0);
}

TEST_CASE("means over a band") {
  const auto flat = [](double) { return 3.0; };
  const auto sloped = [](double nm) { return nm; };
  const auto curved = [](double nm) { return (nm - 455) * (nm - 455); };
  CHECK_THAT(band_mean(flat, 455, 20), WithinRel(3.0, 1e-12));
  CHECK_THAT(band_mean(sloped, 455, 20), WithinRel(455.0, 1e-9));
  // The mean of the square of the distance is σ², and the width 2√(2 ln 2) σ.
  const double sigma = 20 / 2.354820;
  CHECK_THAT(band_mean(curved, 455, 20), WithinRel(sigma * sigma, 2e-3));
  CHECK(band_mean(curved, 455, 0) == 0);
}
