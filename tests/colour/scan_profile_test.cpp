// Protects the written profile of a scan: what LittleCMS reads back in float is what was put in.
#include <cmath>
#include <random>

#include <catch2/catch.hpp>
#include <lcms2.h>

#include "colour/icc.hpp"

using namespace inkwane;
using namespace inkwane::colour;

namespace {

/// A scanner of exponent 2.2 with overlapping primaries and a little flare: the kind of function
/// the profile has to carry.
LabD50 scanner(const std::array<double, 3>& e) {
  const double r = std::pow(e[0], 2.2), g = std::pow(e[1], 2.1), b = std::pow(e[2], 2.3);
  return to_lab({0.004 + 0.9642 * (0.45 * r + 0.40 * g + 0.13 * b),
                 0.004 + 0.22 * r + 0.70 * g + 0.06 * b,
                 0.003 + 0.8249 * (0.02 * r + 0.09 * g + 0.87 * b)});
}

std::vector<std::uint8_t> profile() {
  const auto shape = [](double x) { return std::cbrt(std::pow(x, 2.2)); };
  return build_scan_profile("BT recto", scanner, {shape, shape, shape});
}

}  // namespace

TEST_CASE("profile read back through LittleCMS agrees to ΔE00 0.2") {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> value(0, 1);
  std::vector<std::array<double, 3>> encoded;
  for (int i = 0; i < 20000; ++i) encoded.push_back({value(random), value(random), value(random)});
  for (int i = 0; i <= 255; ++i) encoded.push_back({i / 255.0, i / 255.0, i / 255.0});
  const auto lab = lab_through_profile(profile(), encoded);
  double worst = 0;
  for (std::size_t i = 0; i < lab.size(); ++i) {
    worst = std::max(worst, ciede2000(lab[i], scanner(encoded[i])));
  }
  CAPTURE(worst);
  CHECK(worst < 0.2);
}

TEST_CASE("the profile is an ICC v4 input profile, RGB to Lab, the same bytes each time") {
  const auto icc = profile();
  CHECK(icc == profile());
  cmsHPROFILE p = cmsOpenProfileFromMem(icc.data(), static_cast<cmsUInt32Number>(icc.size()));
  REQUIRE(p);
  CHECK(cmsGetDeviceClass(p) == cmsSigInputClass);
  CHECK(cmsGetColorSpace(p) == cmsSigRgbData);
  CHECK(cmsGetPCS(p) == cmsSigLabData);
  CHECK(cmsGetProfileVersion(p) >= 4.0);
  CHECK(cmsIsTag(p, cmsSigAToB0Tag));
  CHECK(cmsIsTag(p, cmsSigMediaWhitePointTag));
  cmsCloseProfile(p);
}
