// That an embedded ICC profile is honoured: by known-difference pairs, and against LittleCMS
// itself.
#include <array>

#include <catch2/catch.hpp>
#include <lcms2.h>

#include <inkwane/colour.hpp>

#include "tests/published/lab_of.hpp"

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {

/// A matrix profile by LittleCMS with the primaries of sRGB (IEC 61966-2-1) in the given order.
std::vector<std::uint8_t> profile(const std::array<int, 3>& order, double gamma) {
  const std::array<cmsCIExyY, 3> srgb{{{0.64, 0.33, 1}, {0.30, 0.60, 1}, {0.15, 0.06, 1}}};
  const cmsCIExyYTRIPLE primaries{srgb[order[0]], srgb[order[1]], srgb[order[2]]};
  const cmsCIExyY d65{0.3127, 0.3290, 1};
  cmsToneCurve* const curve = cmsBuildGamma(nullptr, gamma);
  const std::array<cmsToneCurve*, 3> curves{curve, curve, curve};
  cmsHPROFILE const handle = cmsCreateRGBProfile(&d65, &primaries, curves.data());
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(handle, nullptr, &size);
  std::vector<std::uint8_t> bytes(size);
  cmsSaveProfileToMem(handle, bytes.data(), &size);
  cmsCloseProfile(handle);
  cmsFreeToneCurve(curve);
  return bytes;
}

LabD50 lab(const std::vector<std::uint8_t>& icc, const std::array<std::uint16_t, 3>& encoded) {
  const auto linearisation = colour::Linearisation::from_profile(icc, "made.tif");
  return test::lab_of(linearisation, encoded);
}

/// LittleCMS alone: encoded → Lab in double.
LabD50 lab_by_lcms(const std::vector<std::uint8_t>& icc,
                   const std::array<std::uint16_t, 3>& encoded) {
  cmsHPROFILE const from =
      cmsOpenProfileFromMem(icc.data(), static_cast<cmsUInt32Number>(icc.size()));
  cmsHPROFILE const to = cmsCreateLab4Profile(nullptr);
  cmsHTRANSFORM const transform =
      cmsCreateTransform(from, TYPE_RGB_DBL, to, TYPE_Lab_DBL, INTENT_RELATIVE_COLORIMETRIC,
                         cmsFLAGS_NOOPTIMIZE | cmsFLAGS_NOCACHE);
  const std::array<double, 3> in{encoded[0] / 65535.0, encoded[1] / 65535.0, encoded[2] / 65535.0};
  cmsCIELab out{};
  cmsDoTransform(transform, in.data(), &out, 1);
  cmsDeleteTransform(transform);
  cmsCloseProfile(from);
  cmsCloseProfile(to);
  return {out.L, out.a, out.b};
}

}  // namespace

// Source: the ICC model itself (ICC.1:2022, annex F.3, three-component matrix-based profiles): with
// red and blue exchanged in the profile, a pixel means what its mirror image meant before.
TEST_CASE("a profile with channels exchanged exchanges the colours") {
  const auto usual = profile({0, 1, 2}, 2.2), exchanged = profile({2, 1, 0}, 2.2);
  const LabD50 red = lab(usual, {60'000, 9'000, 20'000});
  CHECK(ciede2000(lab(exchanged, {20'000, 9'000, 60'000}), red) < 0.01);  // s15Fixed16 rounding
  CHECK(ciede2000(lab(exchanged, {60'000, 9'000, 20'000}), red) > 30);
}

// Source: LittleCMS 2.14, run here, without its 8- and 16-bit shortcuts.
TEST_CASE("matrix profiles agree with LittleCMS, for several exponents") {
  for (const double gamma : {1.0, 1.8, 2.2, 2.6}) {
    const auto icc = profile({0, 1, 2}, gamma);
    for (std::uint16_t r = 0; r < 65'000; r = static_cast<std::uint16_t>(r + 9'000)) {
      const std::array<std::uint16_t, 3> encoded{r, static_cast<std::uint16_t>(65'000 - r), 30'000};
      CAPTURE(gamma, r);
      const LabD50 ours = lab(icc, encoded), theirs = lab_by_lcms(icc, encoded);
      CHECK_THAT(ours.L, WithinAbs(theirs.L, 0.01));
      CHECK_THAT(ours.a, WithinAbs(theirs.a, 0.01));
      CHECK_THAT(ours.b, WithinAbs(theirs.b, 0.01));
    }
  }
}
