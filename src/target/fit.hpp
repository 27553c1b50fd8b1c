// The correction of one scan, fitted to its target: from linear RGB to XYZ D50, and how sure it is.
#pragma once

#include "colour/icc.hpp"
#include "target/find.hpp"
#include "target/reference.hpp"

#include <Eigen/Dense>
#include <string>
#include <vector>

namespace inkwane::target {

/// How one scan's encoded RGB becomes colour. Light is averaged between `linearise` and `to_xyz`:
/// t = tone(linearised), XYZ = M φ(t) + o. Uncalibrated scans have the profile's own matrix, no
/// tone correction, and wide uncertainty.
class ScanColour {
 public:
  /// Without a target: what the profile says.
  static ScanColour uncalibrated(colour::Linearisation linearisation);

  [[nodiscard]] bool calibrated() const { return calibrated_; }
  [[nodiscard]] const std::string& model() const { return model_; }  ///< which rung of the ladder, in words

  /// Encoded strip (CV_16UC3) → light t (CV_32FC3), which may be averaged. Thread-safe.
  void linearise(const cv::Mat& encoded, cv::Mat& light) const;
  /// Averaged light (CV_32FC3) → XYZ D50 (CV_32FC3), cell by cell; NaN stays NaN. Thread-safe.
  void to_xyz(const cv::Mat& light, cv::Mat& xyz) const;
  [[nodiscard]] XyzD50 to_xyz(const Eigen::Vector3d& light) const;
  /// Encoded 0–1 → Lab D50, the whole way, for the ICC profile.
  [[nodiscard]] LabD50 lab_of_encoded(const std::array<double, 3>& encoded) const;

  /// ICC profile of the scan: encoded RGB → Lab.
  [[nodiscard]] std::vector<std::uint8_t> profile(const std::string& description) const;

  /// d Lab / d parameters (3 × parameters) at averaged light `t`.
  [[nodiscard]] Eigen::MatrixXd lab_jacobian(const Eigen::Vector3d& light) const;
  /// Covariance of the parameters (s² C of docs/method.md); 0 × 0 when uncalibrated.
  [[nodiscard]] const Eigen::MatrixXd& covariance() const { return covariance_; }
  /// s: scale of what the model cannot follow, in units of 0.5 ΔE00 (mean left-out Mahalanobis).
  [[nodiscard]] double misfit_scale() const { return misfit_scale_; }

 private:
  friend struct FitBuilder;
  colour::Linearisation linearisation_;
  bool calibrated_ = false;
  std::string model_;
  std::array<double, 3> gamma_{1, 1, 1}, beta_{0, 0, 0};
  std::array<std::vector<float>, 3> tables_;  // encoded 16 bit → light, where by channel
  Eigen::Matrix<double, 3, Eigen::Dynamic> mixing_;  // 3 × terms, rows scaled to XYZ D50
  Eigen::Vector3d offset_ = Eigen::Vector3d::Zero();
  Eigen::MatrixXd covariance_;
  double misfit_scale_ = 0;
};

struct Fit {
  ScanColour colour;
  std::vector<LabD50> fitted;        ///< of each patch, in the reference's order
  std::vector<double> left_out_dE00;  ///< of each patch, fitted without it
  double left_out_median = 0, left_out_p95 = 0, left_out_max = 0;
  std::vector<std::string> warnings;  ///< soiled patch, left-out median above 2, clipped patches …
  bool doubtful = false;
};

/// Fits tone and mixing together (docs/method.md, "Target fit"). Throws Error(scan) where the
/// readings cannot be those of the reference.
[[nodiscard]] Fit fit_target(const Reference& reference, const std::vector<PatchReading>& readings,
                             const colour::Linearisation& linearisation, const std::string& file);

}  // namespace inkwane::target
