// What mixture of absorptions comes nearest to another, none of them negative.
#pragma once

#include <vector>

#include <Eigen/Core>

namespace inkwane::finding {

/// Weights, one a column: least squares of `target` on the columns with no weight below 0, by
/// trying all sets of up to three columns (more cannot be told apart in three channels). Of sets
/// that come as near, the smaller is taken.
[[nodiscard]] std::vector<double> mixture(const std::vector<Eigen::Vector3d>& columns,
                                          const Eigen::Vector3d& target);

}  // namespace inkwane::finding
