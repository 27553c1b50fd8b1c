// sRGB (IEC 61966-2-1:1999) as seen from the D50 connection space.
#pragma once

#include <Eigen/Core>

namespace inkwane::colour {

/// Encoded 0–1 → linear 0–1, IEC 61966-2-1 clause 5.2.
[[nodiscard]] double srgb_to_linear(double encoded);
/// Linear 0–1 → encoded 0–1, IEC 61966-2-1 clause 5.3.
[[nodiscard]] double linear_to_srgb(double linear);

/// Linear RGB of the given primaries and white (chromaticities x, y) → XYZ with Y = 1 for white.
[[nodiscard]] Eigen::Matrix3d rgb_to_xyz(const Eigen::Matrix<double, 3, 2>& primaries,
                                         const Eigen::Vector2d& white);

/// Linear sRGB → XYZ D50: primaries and D65 of IEC 61966-2-1, adapted by the Bradford transform.
[[nodiscard]] const Eigen::Matrix3d& srgb_to_xyz_d50();

}  // namespace inkwane::colour
