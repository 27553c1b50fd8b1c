// What a small step in Lab is worth in CIEDE2000, and what a step in XYZ is in Lab.
#pragma once

#include <Eigen/Core>

#include <inkwane/colour.hpp>

namespace inkwane::target {

/// A of shape 3 × 3 with ΔE00(lab, lab + d) ≈ |A d| for small d: the derivative of the formula's
/// weighted differences at `lab`, its rotation term split evenly by the Cholesky factor.
[[nodiscard]] Eigen::Matrix3d ciede2000_metric(const LabD50& lab);

/// ∂(L*, a*, b*) / ∂(X, Y, Z) at `xyz`, Y = 1 for white.
[[nodiscard]] Eigen::Matrix3d lab_by_xyz(const XyzD50& xyz);

[[nodiscard]] inline Eigen::Vector3d vector_of(const LabD50& c) {
  return {c.L, c.a, c.b};
}
[[nodiscard]] inline Eigen::Vector3d vector_of(const XyzD50& c) {
  return {c.X, c.Y, c.Z};
}

}  // namespace inkwane::target
