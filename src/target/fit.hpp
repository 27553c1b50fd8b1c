// The correction of one scan, fitted to its target: from linear RGB to XYZ D50, and how sure it is.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include <Eigen/Dense>

#include "colour/icc.hpp"
#include "target/find.hpp"
#include "target/model.hpp"
#include "target/reference.hpp"

namespace inkwane::target {

/// How one scan's encoded RGB becomes colour. Light is averaged between `linearise` and `to_xyz`:
/// t = tone(linearised), XYZ = M φ(t) + o. Uncalibrated scans have the profile's own matrix, no
/// tone correction, and wide uncertainty.
class ScanColour {
 public:
  /// Nothing yet: for records that are filled later.
  ScanColour() = default;
  /// Without a target: what the profile says.
  static ScanColour uncalibrated(colour::Linearisation linearisation);
  /// From a fit. `estimator`: how the parameters follow an error of each residual
  /// (LeastSquares::estimator); `misfit_scale`: s of docs/method.md.
  ScanColour(colour::Linearisation linearisation, Rung rung, const Parameters& parameters,
             Eigen::MatrixXd estimator, double misfit_scale);

  [[nodiscard]] bool calibrated() const { return calibrated_; }
  [[nodiscard]] const std::string& model() const {
    return model_;
  }  ///< which rung of the ladder, in words

  /// Encoded strip (CV_16UC3) → light t (CV_32FC3), which may be averaged. Thread-safe.
  void linearise(const cv::Mat& encoded, cv::Mat& light) const;
  /// Averaged light (CV_32FC3) → XYZ D50 (CV_32FC3), cell by cell; NaN stays NaN. Thread-safe.
  void to_xyz(const cv::Mat& light, cv::Mat& xyz) const;
  [[nodiscard]] XyzD50 to_xyz(const Eigen::Vector3d& light) const {
    return mix(parameters_, light);
  }
  /// What the tone starts from (v of docs/method.md) → light t.
  [[nodiscard]] Eigen::Vector3d light_of(const Eigen::Vector3d& linear) const;
  /// Encoded 0–1 → Lab D50, the whole way, for the ICC profile.
  [[nodiscard]] LabD50 lab_of_encoded(const std::array<double, 3>& encoded) const;

  /// ICC profile of the scan: encoded RGB → Lab.
  [[nodiscard]] std::vector<std::uint8_t> profile(const std::string& description) const;

  /// d Lab / d parameters (3 × parameters) at averaged light `t`.
  [[nodiscard]] Eigen::MatrixXd lab_jacobian(const Eigen::Vector3d& light) const;
  /// d Lab / d ln t.
  [[nodiscard]] Eigen::Matrix3d lab_by_log_light(const Eigen::Vector3d& light) const;
  /// Covariance of the parameters (s² C of docs/method.md); 0 × 0 when uncalibrated.
  [[nodiscard]] const Eigen::MatrixXd& covariance() const { return covariance_; }
  /// Parameters × residuals: covariance() = s² estimator estimatorᵀ. The residuals' order is the
  /// same for every scan of one target, so errors of the reference stay shared between scans.
  [[nodiscard]] const Eigen::MatrixXd& estimator() const { return estimator_; }
  /// s: scale of what the model cannot follow, in units of 0.5 ΔE00 (mean left-out Mahalanobis).
  [[nodiscard]] double misfit_scale() const { return misfit_scale_; }

 private:
  explicit ScanColour(colour::Linearisation linearisation);
  void make_tables();

  colour::Linearisation linearisation_;
  bool calibrated_ = false;
  std::string model_;
  Parameters parameters_ = Parameters::Zero();
  int terms_ = 3;
  std::array<std::vector<float>, 3> tables_;  // encoded 16 bit → light, where by channel
  Eigen::MatrixXd estimator_, covariance_;
  double misfit_scale_ = 0;
};

struct Fit {
  Fit() = default;
  explicit Fit(ScanColour scan_colour) : colour(std::move(scan_colour)) {}

  ScanColour colour;
  std::vector<LabD50> fitted;         ///< of each patch, in the reference's order
  std::vector<double> left_out_dE00;  ///< of each patch, fitted without it
  std::vector<bool> used;  ///< false: soiled or clipped, not fitted to and not in the figures below
  double noise_dE00 = 0;   ///< rms standard error of the patches' readings, as a colour difference
  double parameters_spent =
      0;  ///< effective number that the patches determine: trace of the fit's hat matrix
  /// Standard uncertainty (ΔE00 a component) of this scan's own error as repeat scans showed it, in
  /// place of what the target tells.
  std::optional<double> repeat_dE00;
  Eigen::VectorXd residuals;  ///< three a patch in the reference's order, then the priors'
  /// What one standard deviation of each error of TargetReadings::log_errors leaves of residuals
  /// once the parameters have followed (residuals × errors), and how those follow (parameters ×
  /// errors).
  Eigen::MatrixXd residual_errors, parameter_errors;
  double left_out_median = 0, left_out_p95 = 0, left_out_max = 0;
  std::vector<std::string> warnings;  ///< soiled patch, left-out median above 2, clipped patches …
  bool doubtful = false;
};

/// What one scan saw of the target.
struct TargetReadings {
  std::vector<PatchReading> patches;  ///< in the reference's order
  colour::Linearisation linearisation;
  std::string file;  ///< for messages
  /// Errors that all readings share, one standard deviation each: what they do to ln of each
  /// patch's R, G and B. 3 · patches × errors; none by default.
  Eigen::MatrixXd log_errors{};
};

/// Fits tone and mixing together (docs/method.md, "Target fit"), each scan on its own but all with
/// the same rung of the ladder, the one that leaves least over all of them: a change of model from
/// one stage to the next would look like a change of colour. Throws Error(scan) where readings
/// cannot be those of the reference.
[[nodiscard]] std::vector<Fit> fit_targets(const Reference& reference,
                                           std::span<const TargetReadings> scans);
/// The same for one scan.
[[nodiscard]] Fit fit_target(const Reference& reference, const std::vector<PatchReading>& readings,
                             const colour::Linearisation& linearisation, const std::string& file);

}  // namespace inkwane::target
