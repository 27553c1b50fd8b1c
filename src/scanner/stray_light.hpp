// Stray light of a flatbed: the bright surround of a place lights it anew through the lamp's
// housing.
//
//   m = t (1 + κ (t ⊗ h)) / (1 + κ r₀),   h ∝ exp(−r / ℓ), ∫ h = 1
//
// t: linear light as it would be without, m: as scanned, channel by channel, 1 at the end of the
// scanner's scale. One exponential with κ and ℓ shared by all channels took what six surrounds made
// of one chart on a consumer flatbed from ΔE00 2.86 to 0.59 (docs/method.md, "Stray light").
#pragma once

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

/// Linear light of a whole scan in cells of about a millimetre: cell (i, j) is centred on the
/// scan's pixel origin_px + pitch_px (i, j).
struct CoarseLight {
  cv::Mat light;  ///< CV_32FC3
  double pitch_mm = 1, pitch_px = 1;
  Point origin_px;
};
inline constexpr double kCoarseMm = 1;  ///< what those cells should measure

/// t ⊗ h (CV_32FC3) of light in cells of `pitch_mm`; beyond the picture its edge goes on.
[[nodiscard]] cv::Mat surround(const cv::Mat& light, double length_mm, double pitch_mm);

/// ln(m / t) of a scan, at any place of it.
class Correction {
 public:
  /// Inverts the model for the light that was seen: T ← m (1 + κ r₀) / (1 + κ (T ⊗ h)), repeated
  /// until it rests.
  Correction(const CoarseLight& seen, const StrayLight& stray);

  /// At a pixel of the scan.
  [[nodiscard]] Eigen::Vector3d log_gain(Point px) const;
  /// At the cells (i, j) centred on the pixels origin_px + pitch_px (i, j): CV_32FC3.
  [[nodiscard]] cv::Mat log_gain(Point origin_px, double pitch_px, const cv::Size& cells) const;
  /// T ⊗ h in the coarse cells, of the light without stray light.
  [[nodiscard]] const cv::Mat& lit_by() const { return lit_by_; }

 private:
  cv::Mat lit_by_, log_gain_;  // CV_32FC3
  double pitch_px_;
  Point origin_px_;
};

}  // namespace inkwane::scanner
