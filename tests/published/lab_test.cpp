// Conversions to CIELAB against published values.
#include <array>
#include <vector>

#include <catch2/catch.hpp>

#include <inkwane/colour.hpp>

#include "tests/published/lab_of.hpp"

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {

LabD50 through_linearisation(const colour::Linearisation& linearisation,
                             const std::array<double, 3>& rgb) {
  std::array<std::uint16_t, 3> encoded;
  for (int c = 0; c < 3; ++c) encoded[c] = static_cast<std::uint16_t>(rgb[c] * 257 + 0.5);
  return test::lab_of(linearisation, encoded);
}

struct Row {
  std::array<double, 3> rgb;  // 0–255
  LabD50 lab;
};

void check_rows(const colour::Linearisation& linearisation, const std::vector<Row>& rows,
                double tolerance) {
  for (const Row& row : rows) {
    CAPTURE(row.rgb[0], row.rgb[1], row.rgb[2]);
    const LabD50 lab = through_linearisation(linearisation, row.rgb);
    CHECK_THAT(lab.L, WithinAbs(row.lab.L, tolerance));
    CHECK_THAT(lab.a, WithinAbs(row.lab.a, tolerance));
    CHECK_THAT(lab.b, WithinAbs(row.lab.b, tolerance));
  }
}

}  // namespace

// Source: LittleCMS's own test bed (testbed/testcms2.c, Chack_sRGB_Float), with its tolerances of
// 0.01 in Lab and 0.0001 in XYZ. White and black are by definition: sRGB's white is the white of
// the profile connection space.
TEST_CASE("sRGB to Lab D50: LittleCMS's own test values") {
  const std::vector<Row> rows{
      {{1, 1, 1}, {0.2741748, 0, 0}},
      {{127, 127, 127}, {53.192776, 0, 0}},
      {{190, 25, 210}, {47.052136, 74.565610, -56.883274}},
      {{128, 0, 0}, {26.164701, 48.478171, 39.4384713}},
      {{255, 255, 255}, {100, 0, 0}},
      {{0, 0, 0}, {0, 0, 0}},
  };
  SECTION("without a profile") {
    check_rows(colour::Linearisation::from_profile({}, "made.tif"), rows, 0.01);
  }
  SECTION("through LittleCMS's sRGB profile") {
    check_rows(colour::Linearisation::from_profile(colour::srgb_profile(), "made.tif"), rows, 0.01);
  }
}

TEST_CASE("sRGB to XYZ D50: LittleCMS's own test values") {
  const struct {
    std::array<double, 3> rgb;
    XyzD50 xyz;
  } rows[] = {
      {{1, 1, 1}, {0.0002927, 0.0003035, 0.000250}},
      {{127, 127, 127}, {0.2046329, 0.212230, 0.175069}},
      {{12, 13, 15}, {0.0038364, 0.0039928, 0.003853}},
      {{128, 0, 0}, {0.0941240, 0.0480256, 0.003005}},
      {{190, 25, 210}, {0.3204592, 0.1605926, 0.468213}},
  };
  const auto linearisation = colour::Linearisation::from_profile({}, "made.tif");
  for (const auto& row : rows) {
    const XyzD50 xyz = to_xyz(through_linearisation(linearisation, row.rgb));
    CAPTURE(row.rgb[0], row.rgb[1], row.rgb[2]);
    CHECK_THAT(xyz.X, WithinAbs(row.xyz.X, 1e-4));
    CHECK_THAT(xyz.Y, WithinAbs(row.xyz.Y, 1e-4));
    CHECK_THAT(xyz.Z, WithinAbs(row.xyz.Z, 1e-4));
  }
}

// Source: computed from IEC 61966-2-1 and the Bradford-adapted primaries of ICC's sRGB; by nobody
// else. Kept apart from the published values for that.
TEST_CASE("sRGB to Lab D50: the primaries") {
  check_rows(colour::Linearisation::from_profile({}, "made.tif"),
             {{{255, 0, 0}, {54.290, 80.814, 69.890}},
              {{0, 255, 0}, {87.819, -79.275, 80.993}},
              {{0, 0, 255}, {29.566, 68.286, -112.033}}},
             0.02);
  // Against a D65 white, red is 53.237, 80.090, 67.203: a mix-up of the white points is caught.
  const LabD50 red =
      through_linearisation(colour::Linearisation::from_profile({}, "made.tif"), {255, 0, 0});
  CHECK(ciede2000(red, {53.237, 80.090, 67.203}) > 1);
}

// Source: ISO/CIE 11664-4: f(t) = t^(1/3) above (6/29)³, else t (29/6)²/3 + 4/29, from memory; the
// value at the join follows from it: L* = 8, Y = 216/24389 = 0.0088564517.
TEST_CASE("Lab at the join of its two branches") {
  const double joint = 216.0 / 24389.0;
  CHECK_THAT(to_lab({0.9642 * joint, joint, 0.8249 * joint}).L, WithinAbs(8, 1e-9));
  CHECK_THAT(to_xyz({8, 0, 0}).Y, WithinAbs(0.0088564517, 1e-10));
}
