// Profiles made with LittleCMS for the tests.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <vector>

#include <lcms2.h>

namespace made {

inline std::vector<std::uint8_t> bytes(cmsHPROFILE profile) {
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  std::vector<std::uint8_t> icc(size);
  cmsSaveProfileToMem(profile, icc.data(), &size);
  cmsCloseProfile(profile);
  return icc;
}

/// Primaries of a wide gamut with one exponent.
inline std::vector<std::uint8_t> matrix_profile(double gamma, double version) {
  const cmsCIExyY d65{0.3127, 0.3290, 1};
  const cmsCIExyYTRIPLE primaries{{0.64, 0.33, 1}, {0.21, 0.71, 1}, {0.15, 0.06, 1}};
  cmsToneCurve* curve = cmsBuildGamma(nullptr, gamma);
  const std::array<cmsToneCurve*, 3> curves{curve, curve, curve};
  cmsHPROFILE profile = cmsCreateRGBProfile(&d65, &primaries, curves.data());
  cmsSetProfileVersion(profile, version);
  cmsFreeToneCurve(curve);
  return bytes(profile);
}

/// The same colours with tone curves as tables of 16 bits, as scanner makers write them.
inline std::vector<std::uint8_t> table_profile(double gamma) {
  const cmsCIExyY d65{0.3127, 0.3290, 1};
  const cmsCIExyYTRIPLE primaries{{0.64, 0.33, 1}, {0.21, 0.71, 1}, {0.15, 0.06, 1}};
  cmsToneCurve* exact = cmsBuildGamma(nullptr, gamma);
  std::array<cmsUInt16Number, 1024> table;
  for (int i = 0; i < 1024; ++i) {
    table[i] = cmsEvalToneCurve16(exact, static_cast<cmsUInt16Number>(i * 65535 / 1023));
  }
  cmsToneCurve* curve = cmsBuildTabulatedToneCurve16(nullptr, 1024, table.data());
  const std::array<cmsToneCurve*, 3> curves{curve, curve, curve};
  cmsHPROFILE profile = cmsCreateRGBProfile(&d65, &primaries, curves.data());
  cmsSetProfileVersion(profile, 2.4);
  cmsFreeToneCurve(curve);
  cmsFreeToneCurve(exact);
  return bytes(profile);
}

inline std::vector<std::uint8_t> grey_profile() {
  cmsToneCurve* curve = cmsBuildGamma(nullptr, 2.2);
  cmsHPROFILE profile = cmsCreateGrayProfile(cmsD50_xyY(), curve);
  cmsFreeToneCurve(curve);
  return bytes(profile);
}

inline std::vector<std::uint8_t> cmyk_profile() {
  return bytes(cmsCreateInkLimitingDeviceLink(cmsSigCmykData, 300));
}

}  // namespace made
