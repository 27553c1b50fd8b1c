// Protects K/S, density and coverage against worked figures.
#include "colour/strength.hpp"

#include <catch2/catch.hpp>

using namespace inkwane::colour;
using Catch::Matchers::WithinAbs;

TEST_CASE("K/S of worked reflectances") {
  // (1 − R)² / 2R by hand.
  CHECK_THAT(ks_from_reflectance(0.55), WithinAbs(0.18409, 5e-6));
  CHECK_THAT(ks_from_reflectance(0.50), WithinAbs(0.25, 1e-12));
  CHECK_THAT(ks_from_reflectance(0.10), WithinAbs(4.05, 1e-12));
  CHECK_THAT(ks_from_reflectance(0.90), WithinAbs(0.005556, 5e-7));
}

TEST_CASE("K/S and back, from bare paper to near black") {
  for (double r = 0.002; r <= 1; r *= 1.3) {
    CHECK_THAT(reflectance_from_ks(ks_from_reflectance(r)), WithinAbs(r, 1e-12));
  }
  CHECK(ks_from_reflectance(0) == ks_from_reflectance(kLeastReflectance));
}

TEST_CASE("coverage of a halftone by Murray–Davies and Yule–Nielsen") {
  // Net densities 0.30 and 1.50, by hand: (1 − 10^(−Dt/n)) / (1 − 10^(−Ds/n)).
  CHECK_THAT(coverage_from_density(0.30, 1.50), WithinAbs(0.5151, 5e-5));
  CHECK_THAT(coverage_from_density(0.30, 1.50, 1.7), WithinAbs(0.3843, 5e-5));
  CHECK_THAT(coverage_from_density(0.30, 1.50, 2.0), WithinAbs(0.3552, 5e-5));
  CHECK_THAT(density(0.01), WithinAbs(2, 1e-12));
}
