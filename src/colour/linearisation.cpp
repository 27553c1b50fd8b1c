#include <algorithm>
#include <cmath>

#include <Eigen/LU>
#include <fmt/core.h>

#include <inkwane/error.hpp>

#include "colour/icc.hpp"
#include "colour/lcms_context.hpp"
#include "colour/srgb.hpp"

namespace inkwane::colour {
namespace {

constexpr int kEntries = 65536;

/// A transform needs its context alive, and dies before it.
struct Transform {
  LcmsContext context;
  cmsHTRANSFORM handle = nullptr;
  Eigen::Matrix3d to_rgb;  // XYZ D50 → wide-gamut linear RGB

  Transform() = default;
  Transform(const Transform&) = delete;
  Transform& operator=(const Transform&) = delete;
  ~Transform() {
    if (handle) cmsDeleteTransform(handle);
  }
};

[[noreturn]] void refuse(const std::string& file, const std::string& what) {
  throw Error(ExitCode::scan, fmt::format("{}: {}", file, what));
}

[[noreturn]] void damaged(const std::string& file, const std::string& detail) {
  refuse(file, fmt::format("the embedded ICC profile is damaged ({}); embed the scanner's own "
                           "profile anew, or save the scan without one",
                           detail));
}

std::string four_letters(cmsUInt32Number signature) {
  std::string s;
  for (int shift = 24; shift >= 0; shift -= 8) {
    const char c = static_cast<char>((signature >> shift) & 0xff);
    s += c > ' ' && c < 0x7f ? c : '?';
  }
  return s;
}

void append_utf8(std::string& out, char32_t c) {
  if (c < 0x20 || c == 0x7f || (c >= 0xd800 && c < 0xe000) || c > 0x10ffff) return;
  const auto put = [&out](char32_t byte) {
    out += static_cast<char>(static_cast<unsigned char>(byte));
  };
  if (c < 0x80) {
    put(c);
  } else if (c < 0x800) {
    put(0xc0 | (c >> 6));
    put(0x80 | (c & 0x3f));
  } else if (c < 0x10000) {
    put(0xe0 | (c >> 12));
    put(0x80 | ((c >> 6) & 0x3f));
    put(0x80 | (c & 0x3f));
  } else {
    put(0xf0 | (c >> 18));
    put(0x80 | ((c >> 12) & 0x3f));
    put(0x80 | ((c >> 6) & 0x3f));
    put(0x80 | (c & 0x3f));
  }
}

std::string description_of(cmsHPROFILE profile) {
  std::array<wchar_t, 512> wide{};
  cmsGetProfileInfo(profile, cmsInfoDescription, "en", "GB", wide.data(),
                    static_cast<cmsUInt32Number>(wide.size() * sizeof(wchar_t)));
  wide.back() = 0;
  std::string text;
  for (const wchar_t* c = wide.data(); *c; ++c) append_utf8(text, static_cast<char32_t>(*c));
  return text.empty() ? "profile without a name" : text;
}

/// Evaluated in float: LittleCMS would round the result of a tabulated curve to 16 bits, which in
/// the darks is a tenth of an L* step.
double evaluate(const cmsToneCurve* curve, double x) {
  if (cmsGetToneCurveParametricType(curve) == 0) {
    const cmsUInt32Number n = cmsGetToneCurveEstimatedTableEntries(curve);
    const cmsUInt16Number* table = cmsGetToneCurveEstimatedTable(curve);
    if (n >= 2 && table) {
      const double at = x * (n - 1);
      const auto low = std::min(static_cast<cmsUInt32Number>(at), n - 2);
      const double part = at - low;
      return (table[low] * (1 - part) + table[low + 1] * part) / 65535.0;
    }
  }
  return static_cast<double>(cmsEvalToneCurveFloat(curve, static_cast<float>(x)));
}

std::vector<float> tabulate(const std::function<double(double)>& curve) {
  std::vector<float> table(kEntries);
  for (int i = 0; i < kEntries; ++i) {
    table[i] = static_cast<float>(std::clamp(curve(i / 65535.0), 0.0, 1.0));
  }
  return table;
}

bool has_lookup_table(cmsHPROFILE profile) {
  for (const auto tag : {cmsSigAToB0Tag, cmsSigAToB1Tag, cmsSigDToB0Tag, cmsSigDToB1Tag}) {
    if (cmsIsTag(profile, tag)) return true;
  }
  return false;
}

/// ROMM RGB, ISO 22028-2:2013: its white is D50 and its gamut holds all printed colours.
Eigen::Matrix3d wide_gamut_to_xyz() {
  Eigen::Matrix<double, 3, 2> primaries;
  primaries << 0.7347, 0.2653, 0.1596, 0.8404, 0.0366, 0.0001;
  const double sum = kWhiteD50.X + kWhiteD50.Y + kWhiteD50.Z;
  return rgb_to_xyz(primaries, {kWhiteD50.X / sum, kWhiteD50.Y / sum});
}

}  // namespace

Linearisation Linearisation::identity() {
  Linearisation result;
  result.description_ = "none";
  result.tone_known_ = false;
  result.tables_.fill(tabulate([](double x) { return x; }));
  result.to_xyz_ = srgb_to_xyz_d50();
  return result;
}

Linearisation Linearisation::from_profile(std::span<const std::uint8_t> icc,
                                          const std::string& file) {
  Linearisation result;
  if (icc.empty()) {
    result.description_ = "none";
    result.tone_known_ = false;
    result.tables_.fill(tabulate(srgb_to_linear));
    result.to_xyz_ = srgb_to_xyz_d50();
    return result;
  }

  auto transform = std::make_shared<Transform>();
  const LcmsContext& context = transform->context;
  const Profile profile(cmsOpenProfileFromMemTHR(context.get(), icc.data(),
                                                 static_cast<cmsUInt32Number>(icc.size())));
  if (!profile) damaged(file, context.complaint("its header cannot be read"));

  const auto space = cmsGetColorSpace(profile.get());
  if (space != cmsSigRgbData) {
    refuse(file, fmt::format("the embedded ICC profile is for {} data, not RGB; scan in RGB and "
                             "embed the scanner's own profile",
                             space == cmsSigCmykData   ? "CMYK"
                             : space == cmsSigGrayData ? "grey"
                                                       : '"' + four_letters(space) + '"'));
  }
  const auto kind = cmsGetDeviceClass(profile.get());
  if (kind != cmsSigInputClass && kind != cmsSigDisplayClass && kind != cmsSigColorSpaceClass) {
    refuse(file, fmt::format("the embedded ICC profile is of class \"{}\", which does not describe "
                             "a scan; embed the scanner's own profile",
                             four_letters(kind)));
  }
  result.description_ = description_of(profile.get());

  if (!has_lookup_table(profile.get())) {
    const std::array curves{cmsSigRedTRCTag, cmsSigGreenTRCTag, cmsSigBlueTRCTag};
    const std::array colorants{cmsSigRedColorantTag, cmsSigGreenColorantTag, cmsSigBlueColorantTag};
    for (int c = 0; c < 3; ++c) {
      const auto* curve = static_cast<const cmsToneCurve*>(cmsReadTag(profile.get(), curves[c]));
      const auto* xyz = static_cast<const cmsCIEXYZ*>(cmsReadTag(profile.get(), colorants[c]));
      if (!curve || !xyz) {
        damaged(file, context.complaint("a tone curve or a primary is missing"));
      }
      result.tables_[c] = tabulate([curve](double x) { return evaluate(curve, x); });
      result.to_xyz_.col(c) << xyz->X, xyz->Y, xyz->Z;
      if (result.tables_[c].back() <= result.tables_[c].front()) {
        damaged(file, "a tone curve does not rise");
      }
    }
    if (!(std::abs(result.to_xyz_.determinant()) > 1e-4)) {
      damaged(file, "its primaries lie on one line");
    }
    return result;
  }

  const Profile xyz(cmsCreateXYZProfileTHR(context.get()));
  transform->handle =
      cmsCreateTransformTHR(context.get(), profile.get(), TYPE_RGB_FLT, xyz.get(), TYPE_XYZ_FLT,
                            INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE);
  if (!transform->handle) damaged(file, context.complaint("its tables cannot be used"));
  result.to_xyz_ = wide_gamut_to_xyz();
  transform->to_rgb = result.to_xyz_.inverse();
  result.transform_ = std::move(transform);
  return result;
}

void Linearisation::apply(std::span<const std::uint16_t> encoded, std::span<float> linear) const {
  if (by_channel()) {
    for (std::size_t i = 0; i + 2 < encoded.size(); i += 3) {
      for (std::size_t c = 0; c < 3; ++c) linear[i + c] = tables_[c][encoded[i + c]];
    }
    return;
  }
  const auto& transform = *static_cast<const Transform*>(transform_.get());
  for (std::size_t i = 0; i < encoded.size(); ++i) {
    linear[i] = static_cast<float>(encoded[i]) / 65535.0f;
  }
  cmsDoTransform(transform.handle, linear.data(), linear.data(),
                 static_cast<cmsUInt32Number>(encoded.size() / 3));
  const Eigen::Matrix3f to_rgb = transform.to_rgb.cast<float>();
  Eigen::Map<Eigen::Matrix3Xf> pixels(linear.data(), 3,
                                      static_cast<Eigen::Index>(linear.size() / 3));
  pixels = (to_rgb * pixels).eval();
}

}  // namespace inkwane::colour
