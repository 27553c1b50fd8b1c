#include "colour/srgb.hpp"

#include <cmath>

#include <Eigen/LU>

#include <inkwane/colour.hpp>

namespace inkwane::colour {
namespace {

Eigen::Vector3d xyz_of(const Eigen::Vector2d& xy) {
  return {xy.x() / xy.y(), 1.0, (1.0 - xy.x() - xy.y()) / xy.y()};
}

/// Linear Bradford adaptation between two whites, ICC.1:2022 annex E.3.
Eigen::Matrix3d bradford(const Eigen::Vector3d& from, const Eigen::Vector3d& to) {
  Eigen::Matrix3d cone;
  cone << 0.8951, 0.2664, -0.1614,  //
      -0.7502, 1.7135, 0.0367,      //
      0.0389, -0.0685, 1.0296;
  const Eigen::Vector3d gain = (cone * to).cwiseQuotient(cone * from);
  return cone.inverse() * gain.asDiagonal() * cone;
}

}  // namespace

double srgb_to_linear(double encoded) {
  return encoded <= 0.04045 ? encoded / 12.92 : std::pow((encoded + 0.055) / 1.055, 2.4);
}

double linear_to_srgb(double linear) {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1.0 / 2.4) - 0.055;
}

Eigen::Matrix3d rgb_to_xyz(const Eigen::Matrix<double, 3, 2>& primaries,
                           const Eigen::Vector2d& white) {
  Eigen::Matrix3d columns;
  for (int c = 0; c < 3; ++c) columns.col(c) = xyz_of(primaries.row(c).transpose());
  const Eigen::Vector3d scale = columns.inverse() * xyz_of(white);
  return columns * scale.asDiagonal();
}

const Eigen::Matrix3d& srgb_to_xyz_d50() {
  static const Eigen::Matrix3d matrix = [] {
    Eigen::Matrix<double, 3, 2> primaries;
    primaries << 0.64, 0.33, 0.30, 0.60, 0.15, 0.06;  // IEC 61966-2-1, table 1
    const Eigen::Vector2d d65(0.3127, 0.3290);        // the same table
    const Eigen::Vector3d d50(kWhiteD50.X, kWhiteD50.Y, kWhiteD50.Z);
    return Eigen::Matrix3d(bradford(xyz_of(d65), d50) * rgb_to_xyz(primaries, d65));
  }();
  return matrix;
}

}  // namespace inkwane::colour
