#include <algorithm>
#include <memory>

#include <Eigen/Dense>
#include <lcms2.h>

#include <inkwane/error.hpp>

#include "simulate/chart.hpp"
#include "simulate/scanner.hpp"

namespace inkwane::simulate {
namespace {

struct ContextFree {
  void operator()(void* context) const { cmsDeleteContext(static_cast<cmsContext>(context)); }
};
struct ProfileFree {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
struct CurveFree {
  void operator()(cmsToneCurve* curve) const { cmsFreeToneCurve(curve); }
};
struct TextFree {
  void operator()(cmsMLU* text) const { cmsMLUfree(text); }
};

void require(bool written) {
  if (!written) {
    throw Error(ExitCode::output,
                "The simulated scanner's ICC profile could not be built; free memory.");
  }
}

}  // namespace

std::array<std::array<double, 3>, 3> profile_matrix(const Scene& scene) {
  std::vector<Spectrum> spectra;
  for (const Patch& patch : make_chart(4, 6, scene.seed)) spectra.push_back(patch.reflectance);
  const Spectrum paper = paper_reflectance(0);
  for (const auto& [name, ink] : scene.inks) {
    for (const double amount : {0.2, 0.5, 1.0}) {
      Spectrum some = strength(scene.law, ink);
      for (double& value : some) value *= amount;
      spectra.push_back(inked(scene.law, paper, some));
    }
  }
  // XYZ = M rgb with M·1 = white: fit M's differences from grey, m2 and m3, freely.
  const auto count = static_cast<Eigen::Index>(spectra.size());
  Eigen::MatrixXd sensor(count, 2), colour(count, 3);
  for (Eigen::Index i = 0; i < count; ++i) {
    Eigen::Vector3d rgb;
    for (int c = 0; c < 3; ++c) {
      rgb[c] = 0;
      for (int b = 0; b < kBands; ++b) rgb[c] += sensor_weights()[c][b] * spectra[i][b] / kExposure;
    }
    const Xyz xyz = spectrum_to_xyz(spectra[i]);
    // Dark colours count as much as light ones do to the eye.
    const double weight = 1 / (xyz[1] + 0.05);
    sensor.row(i) << weight * (rgb[0] - rgb[1]), weight * (rgb[2] - rgb[1]);
    for (int axis = 0; axis < 3; ++axis)
      colour(i, axis) = weight * (xyz[axis] - kD50[axis] * rgb[1]);
  }
  const Eigen::MatrixXd fit = sensor.colPivHouseholderQr().solve(colour);
  std::array<std::array<double, 3>, 3> matrix{};
  for (int axis = 0; axis < 3; ++axis) {
    matrix[axis] = {fit(0, axis), kD50[axis] - fit(0, axis) - fit(1, axis), fit(1, axis)};
  }
  return matrix;
}

std::vector<std::uint8_t> scanner_profile(const Scene& scene) {
  const auto matrix = profile_matrix(scene);
  const std::unique_ptr<void, ContextFree> context(cmsCreateContext(nullptr, nullptr));
  const auto lcms = static_cast<cmsContext>(context.get());
  const std::unique_ptr<void, ProfileFree> profile(cmsCreateProfilePlaceholder(lcms));
  require(profile != nullptr);
  cmsHPROFILE h = profile.get();
  cmsSetProfileVersion(h, 2.4);
  cmsSetDeviceClass(h, cmsSigInputClass);
  cmsSetColorSpace(h, cmsSigRgbData);
  cmsSetPCS(h, cmsSigXYZData);
  cmsSetHeaderRenderingIntent(h, INTENT_RELATIVE_COLORIMETRIC);

  const cmsCIEXYZ white{kD50[0], kD50[1], kD50[2]};
  require(cmsWriteTag(h, cmsSigMediaWhitePointTag, &white) != 0);
  constexpr std::array<cmsTagSignature, 3> kColorants{cmsSigRedColorantTag, cmsSigGreenColorantTag,
                                                      cmsSigBlueColorantTag};
  constexpr std::array<cmsTagSignature, 3> kCurves{cmsSigRedTRCTag, cmsSigGreenTRCTag,
                                                   cmsSigBlueTRCTag};
  for (int c = 0; c < 3; ++c) {
    const cmsCIEXYZ colorant{matrix[0][c], matrix[1][c], matrix[2][c]};
    require(cmsWriteTag(h, kColorants[c], &colorant) != 0);
    const std::unique_ptr<cmsToneCurve, CurveFree> curve(
        cmsBuildGamma(lcms, scene.scanner.tone[c]));
    require(curve != nullptr && cmsWriteTag(h, kCurves[c], curve.get()) != 0);
  }
  const auto write_text = [&](cmsTagSignature tag, const char* words) {
    const std::unique_ptr<cmsMLU, TextFree> text(cmsMLUalloc(lcms, 1));
    require(text != nullptr && cmsMLUsetASCII(text.get(), "en", "GB", words) != 0 &&
            cmsWriteTag(h, tag, text.get()) != 0);
  };
  write_text(cmsSigProfileDescriptionTag, "Simulated flatbed");
  write_text(cmsSigCopyrightTag, "No copyright, use freely");

  cmsUInt32Number size = 0;
  require(cmsSaveProfileToMem(h, nullptr, &size) != 0);
  std::vector<std::uint8_t> bytes(size);
  require(cmsSaveProfileToMem(h, bytes.data(), &size) != 0);
  // The date of making (ICC.1, header bytes 24–35) would make two runs differ.
  constexpr std::array<std::uint8_t, 12> kDate{7, 0xea, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0};
  std::copy(kDate.begin(), kDate.end(), bytes.begin() + 24);
  return bytes;
}

}  // namespace inkwane::simulate
