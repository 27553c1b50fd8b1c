// Stray light of a flatbed: the bright surround of a place lights it anew through the lamp's
// housing.
//
//   m = t (1 + κ (t ⊗ h)) / (1 + κ r₀),   h ∝ exp(−r / ℓ), ∫ h = 1
//
// t: linear light as it would be without, m: as scanned, channel by channel, 1 at the end of the
// scanner's scale. One exponential with κ and ℓ shared by all channels took what six surrounds made
// of one chart on a consumer flatbed from ΔE00 2.86 to 0.59 (docs/method.md, "Stray light").
#pragma once

#include <vector>

#include <Eigen/Core>
#include <opencv2/core.hpp>

#include <inkwane/treatment.hpp>

namespace inkwane::scanner {

/// r₀: the surround in which light is left as it is. Its value is swallowed by the target fit, but
/// must be the same for every scan of a treatment, so it is the same for all.
inline constexpr double kSurround = 0.5;

struct StrayLight {
  double kappa = 0;
  double length_mm = 4;  ///< ℓ
};

/// κ and ℓ beyond these are not what the model is for.
inline constexpr double kMostKappa = 0.8, kLeastLengthMm = 1.5, kMostLengthMm = 60;

/// κ and ℓ with their standard uncertainties (k = 1) and the correlation of their errors.
struct StrayLightEstimate {
  StrayLight value;
  double u_kappa = 0, u_length_mm = 0, correlation = 0;
};

/// What one consumer flatbed had (docs/method.md, "Stray light"): taken as the uncertainty where
/// nothing tells a scanner's own.
inline constexpr StrayLight kTypical{0.26, 4};

/// Linear light of a whole scan in cells of about a millimetre: cell (i, j) is centred on the
/// scan's pixel origin_px + pitch_px (i, j).
struct CoarseLight {
  cv::Mat light;  ///< CV_32FC3
  double pitch_mm = 1, pitch_px = 1;
  Point origin_px;
};
inline constexpr double kCoarseMm = 1;  ///< what those cells should measure

/// From finer cells (of 32-bit floats), laid out in the same way: means of whole numbers of cells,
/// at the lower and right edge of what is left; cells as wide as a millimetre or wider are left as
/// they are.
[[nodiscard]] CoarseLight coarse_light(const CoarseLight& fine);

/// t ⊗ h (CV_32FC3) of light in cells of `pitch_mm`; beyond the picture its edge goes on.
[[nodiscard]] cv::Mat surround(const cv::Mat& light, double length_mm, double pitch_mm);

/// ln(m / t) of a scan, at any place of it, and how an error of the estimate would show.
class Correction {
 public:
  /// Inverts the model for the light that was seen: T ← m (1 + κ r₀) / (1 + κ (T ⊗ h)), repeated
  /// until it rests.
  Correction(const CoarseLight& seen, const StrayLightEstimate& stray);

  /// At a pixel of the scan.
  [[nodiscard]] Eigen::Vector3d log_gain(Point px) const { return value_at(log_gain_, px); }
  /// What the parts of the estimate's error, independent and one standard deviation each, do to ln
  /// m there: 3 × parts. The first is that of κ with what of ℓ goes along; the second, where light
  /// is corrected at all, the rest of ℓ's.
  [[nodiscard]] Eigen::Matrix3Xd log_errors(Point px) const;
  /// Takes stray light off the cells (i, j) centred on the pixels origin_px + pitch_px (i, j):
  /// CV_32FC3, linear light.
  void remove(cv::Mat& light, Point origin_px, double pitch_px) const;

 private:
  [[nodiscard]] Eigen::Vector3d value_at(const cv::Mat& picture, Point px) const;

  cv::Mat log_gain_;                 // CV_32FC3
  std::vector<cv::Mat> log_errors_;  // CV_32FC3
  bool corrects_;
  double pitch_px_;
  Point origin_px_;
};

}  // namespace inkwane::scanner
