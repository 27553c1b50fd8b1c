// Shares of a region's colour at every later stage against the first, with what their errors have
// in common: for the course of a treatment.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include <inkwane/treatment.hpp>

#include "change/ink_law.hpp"

namespace inkwane::change {

/// One value a stage, and their covariance.
struct JointShares {
  Eigen::VectorXd value;
  Eigen::MatrixXd covariance;
};

struct ShareSeries {
  std::string region;
  Role role = Role::ink;  ///< `ink`: strength kept; `added`: residual, not clipped at 0
  double area_mm2 = 0;
  std::string first;                ///< stage that the shares are relative to
  std::vector<std::string> stages;  ///< later stages that have a share, in order
  JointShares believed;
  /// Where the law of the ink is open: the same if it is a film.
  std::optional<JointShares> film;
  /// Where it may be a screen too fine to be seen: the same if it is one.
  std::optional<JointShares> screened;
};

/// What one pair of stages with the same first one says of a region.
struct StageShare {
  std::string stage;
  Estimates estimates;
  std::optional<InkLaw> law;
  std::optional<double> if_screened;
};

/// The series of `shares`, in the treatment's order; identity, role and area are left to the
/// caller.
[[nodiscard]] ShareSeries join_shares(const std::vector<StageShare>& shares);

}  // namespace inkwane::change
