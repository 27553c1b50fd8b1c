// Protects XYZ ↔ Lab (ISO/CIE 11664-4): values, the linear branch, the way back, signs.
#include <catch2/catch.hpp>

#include <inkwane/colour.hpp>

using namespace inkwane;
using Catch::Matchers::WithinAbs;

TEST_CASE("white and black of Lab D50") {
  const LabD50 white = to_lab(kWhiteD50);
  CHECK_THAT(white.L, WithinAbs(100, 1e-12));
  CHECK_THAT(white.a, WithinAbs(0, 1e-12));
  CHECK_THAT(white.b, WithinAbs(0, 1e-12));
  CHECK_THAT(to_lab({0, 0, 0}).L, WithinAbs(0, 1e-12));
}

TEST_CASE("lightness of mid reflectances") {
  // L* = 116 Y^(1/3) − 16 by hand: Y = 0.125 gives 116 · 0.5 − 16 = 42, Y = 0.001 lies on the
  // linear branch, L* = (29/3)³ Y = 0.9033.
  CHECK_THAT(to_lab({0.125 * 0.9642, 0.125, 0.125 * 0.8249}).L, WithinAbs(42, 1e-12));
  CHECK_THAT(to_lab({0.001 * 0.9642, 0.001, 0.001 * 0.8249}).L, WithinAbs(0.903296, 1e-6));
}

TEST_CASE("both branches meet without a step") {
  const double y = 216.0 / 24389.0;  // (6/29)³, ISO/CIE 11664-4
  CHECK_THAT(to_lab({0, y * (1 + 1e-12), 0}).L - to_lab({0, y * (1 - 1e-12), 0}).L,
             WithinAbs(0, 1e-8));
  CHECK_THAT(to_lab({0, y, 0}).L, WithinAbs(8, 1e-9));
}

TEST_CASE("Lab to XYZ and back is the same colour, negative XYZ included") {
  for (double L = -5; L <= 105; L += 10) {
    for (double a = -120; a <= 120; a += 30) {
      for (double b = -120; b <= 120; b += 30) {
        const LabD50 back = to_lab(to_xyz({L, a, b}));
        REQUIRE_THAT(back.L, WithinAbs(L, 1e-9));
        REQUIRE_THAT(back.a, WithinAbs(a, 1e-9));
        REQUIRE_THAT(back.b, WithinAbs(b, 1e-9));
      }
    }
  }
}

TEST_CASE("hue difference carries the sign of the turn and completes ΔE*ab") {
  const LabD50 red{50, 40, 0}, orange{50, 30, 30}, purple{50, 30, -30};
  CHECK(delta_hue(red, orange) > 0);
  CHECK(delta_hue(red, purple) < 0);
  CHECK_THAT(hue_degrees({50, 0, -1}), WithinAbs(270, 1e-12));
  // ΔE*ab² = ΔL² + ΔC² + ΔH², ISO/CIE 11664-4.
  const double dc = chroma(orange) - chroma(red), dh = delta_hue(red, orange);
  CHECK_THAT(dc * dc + dh * dh, WithinAbs(10 * 10 + 30 * 30, 1e-9));
}
