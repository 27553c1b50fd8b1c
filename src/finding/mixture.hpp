// What mixture of absorptions comes nearest to another, none of them negative.
#pragma once

#include <vector>

#include <Eigen/Core>

namespace inkwane::finding {

/// What rounding and noise make of one colour.
inline constexpr double kNearer = 1e-4;

/// Weights, one a column: least squares of `target` on the columns with no weight below 0, by
/// trying all sets of up to three columns (more cannot be told apart in three channels). A larger
/// set is taken only if it comes nearer by `nearer`, a share of the target's squared length.
[[nodiscard]] std::vector<double> mixture(const std::vector<Eigen::Vector3d>& columns,
                                          const Eigen::Vector3d& target, double nearer = kNearer);

}  // namespace inkwane::finding
