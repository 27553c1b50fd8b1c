// Protects the way from a file's encoded RGB to linear light and XYZ: sRGB, matrix profiles of both
// ICC versions, table curves, cLUT profiles; and the refusals.
#include <cmath>
#include <random>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "colour/icc.hpp"
#include "made_profiles.hpp"

using namespace inkwane;
using namespace inkwane::colour;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

LabD50 lab_of(const Linearisation& l, const std::array<std::uint16_t, 3>& encoded) {
  std::array<float, 3> linear{};
  l.apply(encoded, linear);
  const Eigen::Vector3d xyz =
      l.to_xyz() * Eigen::Vector3f(linear[0], linear[1], linear[2]).cast<double>();
  return to_lab({xyz.x(), xyz.y(), xyz.z()});
}

void check_against_lcms(const std::vector<std::uint8_t>& icc, double tolerance) {
  const auto l = Linearisation::from_profile(icc, "scan.tif");
  std::mt19937 random(7);
  std::uniform_int_distribution<int> value(0, 65535);
  std::vector<std::array<double, 3>> encoded;
  std::vector<LabD50> ours;
  for (int i = 0; i < 2000; ++i) {
    const std::array<std::uint16_t, 3> rgb{static_cast<std::uint16_t>(value(random)),
                                           static_cast<std::uint16_t>(value(random)),
                                           static_cast<std::uint16_t>(value(random))};
    encoded.push_back({rgb[0] / 65535.0, rgb[1] / 65535.0, rgb[2] / 65535.0});
    ours.push_back(lab_of(l, rgb));
  }
  const auto theirs = lab_through_profile(icc, encoded);
  double worst = 0;
  for (std::size_t i = 0; i < ours.size(); ++i) {
    worst = std::max(worst, ciede2000(ours[i], theirs[i]));
  }
  CAPTURE(worst);
  CHECK(worst < tolerance);
}

void check_refused(const std::vector<std::uint8_t>& icc, const std::string& words) {
  try {
    Linearisation::from_profile(icc, "scan.tif");
    FAIL("not refused");
  } catch (const Error& e) {
    CHECK(e.code() == ExitCode::scan);
    CHECK_THAT(e.what(), Contains("scan.tif") && Contains(words));
  }
}

}  // namespace

TEST_CASE("without a profile: sRGB to Lab D50") {
  // First three rows: LittleCMS's own test bed (testbed/testcms2.c), tolerance 0.01 there; the
  // primaries were computed from IEC 61966-2-1 with the Bradford transform.
  const auto l = Linearisation::from_profile({}, "scan.tif");
  CHECK(l.description() == "none");
  const auto check = [&l](int r, int g, int b, LabD50 expected) {
    const LabD50 lab =
        lab_of(l, {static_cast<std::uint16_t>(r * 257), static_cast<std::uint16_t>(g * 257),
                   static_cast<std::uint16_t>(b * 257)});
    CHECK_THAT(lab.L, WithinAbs(expected.L, 0.01));
    CHECK_THAT(lab.a, WithinAbs(expected.a, 0.01));
    CHECK_THAT(lab.b, WithinAbs(expected.b, 0.01));
  };
  check(127, 127, 127, {53.193, 0, 0});
  check(190, 25, 210, {47.052, 74.566, -56.883});
  check(128, 0, 0, {26.165, 48.478, 39.438});
  check(255, 0, 0, {54.290, 80.814, 69.890});
  check(0, 255, 0, {87.819, -79.275, 80.993});
  check(0, 0, 255, {29.566, 68.286, -112.033});
  check(255, 255, 255, {100, 0, 0});
}

TEST_CASE("matrix profiles agree with LittleCMS") {
  // LittleCMS keeps colorants to 1/65536 and computes in single precision: well below 0.01.
  check_against_lcms(made::matrix_profile(2.2, 2.4), 0.01);
  check_against_lcms(made::matrix_profile(1.8, 4.3), 0.01);
  check_against_lcms(srgb_profile(), 0.01);
}

TEST_CASE("curves given as tables agree with LittleCMS to its rounding of 16 bits") {
  // LittleCMS rounds the table's result to 1/65535, which at L* 0 is 0.014 L*.
  check_against_lcms(made::table_profile(2.2), 0.05);
  const auto l = Linearisation::from_profile(made::table_profile(2.2), "scan.tif");
  CHECK(l.by_channel());
  CHECK_THAT(l.tables()[0][32768], WithinAbs(std::pow(32768 / 65535.0, 2.2), 2e-5));
}

TEST_CASE("a cLUT profile is followed through LittleCMS") {
  const auto srgb = Linearisation::from_profile({}, "scan.tif");
  const auto lab = [&srgb](const std::array<double, 3>& e) {
    return lab_of(srgb, {static_cast<std::uint16_t>(std::lround(e[0] * 65535)),
                         static_cast<std::uint16_t>(std::lround(e[1] * 65535)),
                         static_cast<std::uint16_t>(std::lround(e[2] * 65535))});
  };
  const auto same = [](double x) { return x; };
  const auto icc = build_scan_profile("table", lab, {same, same, same});
  const auto l = Linearisation::from_profile(icc, "scan.tif");
  CHECK_FALSE(l.by_channel());
  CHECK(l.description() == "table");
  check_against_lcms(icc, 0.01);
  // Grey runs along R = G = B of the wide-gamut RGB, since its white is D50.
  std::array<float, 3> linear{};
  l.apply(std::array<std::uint16_t, 3>{40000, 40000, 40000}, linear);
  CHECK_THAT(linear[0] / linear[1], WithinAbs(1, 0.005));
  CHECK_THAT(linear[2] / linear[1], WithinAbs(1, 0.005));
}

TEST_CASE("profiles that cannot describe an RGB scan are refused") {
  check_refused(made::grey_profile(), "grey");
  check_refused(made::cmyk_profile(), "CMYK");
  check_refused(std::vector<std::uint8_t>(200, 7), "damaged");
  check_refused(std::vector<std::uint8_t>(3, 7), "damaged");
  auto cut = made::matrix_profile(2.2, 4.3);
  cut.resize(cut.size() / 2);
  check_refused(cut, "damaged");
}

TEST_CASE("no cut of a profile crashes or is followed in silence") {
  const auto whole = made::table_profile(2.2);
  const auto expected = Linearisation::from_profile(whole, "scan.tif").to_xyz();
  int refused = 0;
  for (std::size_t length = 0; length < whole.size(); length += 13) {
    if (length == 0) continue;  // no profile at all
    try {
      const auto l = Linearisation::from_profile({whole.data(), length}, "scan.tif");
      CHECK((l.to_xyz() - expected).norm() < 1e-12);
    } catch (const Error& e) {
      REQUIRE(e.code() == ExitCode::scan);
      ++refused;
    }
  }
  CHECK(refused > 0);
}
