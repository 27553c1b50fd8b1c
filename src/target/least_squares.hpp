// One fit of one model to the patches of a target: least squares with priors.
#pragma once

#include <optional>
#include <vector>

#include "target/model.hpp"

namespace inkwane::target {

/// A residual of 1 is this much ΔE00: what a good model leaves on real targets.
inline constexpr double kResidualUnit = 0.5;

/// What the fit needs to know of the patches. All vectors are as long as the target has patches.
struct PatchData {
  std::vector<LabD50> reference;
  std::vector<Eigen::Vector3d> linear;  ///< v of each channel
  std::vector<Eigen::Matrix3d> metric;  ///< ciede2000_metric at the reference

  [[nodiscard]] int size() const { return static_cast<int>(reference.size()); }
};

/// Rows of priors below the patches' rows: 15 on tone and offset, 30 on the non-linear terms.
inline constexpr int kPriorRows = 45;

/// Minimises Σ |A_i (Lab_i − reference_i) / 0.5|² + priors over the free parameters of one rung.
class LeastSquares {
 public:
  /// `used`: patches that count. `start_gamma`: centre of the prior on γ.
  LeastSquares(const PatchData& patches, std::vector<bool> used, Rung rung, double start_gamma);

  /// The exact answer in XYZ for γ = start_gamma, β = 0; where the search begins.
  [[nodiscard]] Parameters start() const;
  /// Levenberg–Marquardt from `from`.
  [[nodiscard]] Parameters solve(const Parameters& from) const;

  /// Residuals: 3 a patch in the order of the patches (0 where not used), then kPriorRows.
  [[nodiscard]] Eigen::VectorXd residuals(const Parameters& p) const;
  [[nodiscard]] double cost(const Parameters& p) const { return residuals(p).squaredNorm(); }
  /// ∂ residuals / ∂ parameters, all parameters; columns that are not free are 0.
  [[nodiscard]] Eigen::MatrixXd jacobian(const Parameters& p) const;
  /// (JᵀJ)⁻¹ Jᵀ of the free parameters at `p`, 0 elsewhere: how the parameters follow an error of
  /// each residual. Parameters × residuals.
  [[nodiscard]] Eigen::MatrixXd estimator(const Parameters& p) const;

  [[nodiscard]] LabD50 predict(const Parameters& p, int patch) const;
  /// A (Lab − reference) / 0.5 of any patch, used or not, and its derivative.
  [[nodiscard]] Eigen::Vector3d patch_residual(const Parameters& p, int patch) const;
  [[nodiscard]] Jacobian patch_jacobian(const Parameters& p, int patch) const;

  [[nodiscard]] double start_gamma() const { return start_gamma_; }
  [[nodiscard]] const std::vector<int>& free() const { return free_; }

 private:
  [[nodiscard]] Eigen::Vector3d light(const Parameters& p, int patch) const;

  const PatchData* patches_;
  std::vector<bool> used_;
  Rung rung_;
  double start_gamma_;
  std::vector<int> free_;
  std::vector<Eigen::Vector3d> log_v_;
};

}  // namespace inkwane::target
