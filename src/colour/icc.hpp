// ICC profiles, through LittleCMS: reading an embedded one, writing the one of a calibrated scan.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include <Eigen/Core>
#include <opencv2/core.hpp>

#include <inkwane/colour.hpp>

namespace inkwane::colour {

/// From a file's encoded RGB to RGB that is linear in light, and from there to XYZ D50, as an ICC
/// profile says (relative colorimetric, no black point compensation). Matrix/tone-curve profiles
/// are followed exactly: three tone curves, one matrix. A profile of another build (cLUT) is
/// followed through LittleCMS in float into a linear RGB of wide gamut.
class Linearisation {
 public:
  /// `icc` empty: sRGB (IEC 61966-2-1). Throws Error(scan), naming `file`, if the profile is
  /// damaged, not RGB, or not an input, display or colour-space profile.
  static Linearisation from_profile(std::span<const std::uint8_t> icc, const std::string& file);
  /// Encoded values taken as linear, with sRGB's primaries: for tables of device values whose tone
  /// curve is unknown.
  static Linearisation identity();

  /// The profile's description in its own words; "none" where there was none.
  [[nodiscard]] const std::string& description() const { return description_; }
  /// False where no profile says by what tone curve the values are encoded: sRGB is assumed, or
  /// nothing (identity()).
  [[nodiscard]] bool tone_known() const { return tone_known_; }
  /// True where each channel is linearised on its own (matrix/tone-curve profiles and sRGB).
  [[nodiscard]] bool by_channel() const { return !tables_[0].empty(); }
  /// Per channel: 65,536 entries, encoded 16-bit value → linear 0–1. Empty unless by_channel().
  [[nodiscard]] const std::array<std::vector<float>, 3>& tables() const { return tables_; }
  /// Linear RGB → XYZ D50.
  [[nodiscard]] const Eigen::Matrix3d& to_xyz() const { return to_xyz_; }
  /// Encoded pixels (16 bit, R G B interleaved) → linear RGB; both spans hold 3 values a pixel.
  void apply(std::span<const std::uint16_t> encoded, std::span<float> linear) const;

 private:
  std::string description_;
  bool tone_known_ = true;
  std::array<std::vector<float>, 3> tables_;
  Eigen::Matrix3d to_xyz_ = Eigen::Matrix3d::Identity();
  std::shared_ptr<void> transform_;  // LittleCMS, for cLUT profiles
};

/// Builds an ICC v4 input profile (A2B0: tone curves, 49³ cLUT, PCS Lab) that maps encoded RGB
/// (0–1) to Lab D50 as `encoded_to_lab` does. `shape` gives, per channel, 0–1 → 0–1, how the
/// cLUT's lattice should be spaced: cube roots of light need the finest steps where L* changes
/// fastest, at black. Returns the profile's bytes.
[[nodiscard]] std::vector<std::uint8_t> build_scan_profile(
    const std::string& description,
    const std::function<LabD50(const std::array<double, 3>& encoded)>& encoded_to_lab,
    const std::array<std::function<double(double)>, 3>& shape);

/// Encoded RGB (0–1) → Lab D50 through a profile's bytes with LittleCMS in float. For checks.
[[nodiscard]] std::vector<LabD50> lab_through_profile(
    std::span<const std::uint8_t> icc, std::span<const std::array<double, 3>> encoded);

/// XYZ D50 (CV_32FC3) → sRGB 8 bit (CV_8UC3, R G B), relative colorimetric, out-of-gamut clipped.
/// NaN, where nothing was measured, becomes white.
[[nodiscard]] cv::Mat to_srgb(const cv::Mat& xyz);

/// The bytes of an sRGB profile, to embed in pictures.
[[nodiscard]] const std::vector<std::uint8_t>& srgb_profile();

}  // namespace inkwane::colour
