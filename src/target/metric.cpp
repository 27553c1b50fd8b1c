#include "target/metric.hpp"

#include <cmath>
#include <numbers>

namespace inkwane::target {

// Symbols and equation numbers of Sharma, Wu, Dalal (2005), for two colours that coincide.
Eigen::Matrix3d ciede2000_metric(const LabD50& lab) {
  constexpr double kRadian = std::numbers::pi / 180;
  const auto saturation = [](double c) {
    const double c7 = std::pow(c, 7);
    return std::sqrt(c7 / (c7 + 6103515625.0));  // 25⁷
  };
  const double stretch = 1.5 - 0.5 * saturation(chroma(lab));  // 1 + G of (4)
  const double a = stretch * lab.a, b = lab.b;
  const double c = std::hypot(a, b);
  const double h = c > 0 ? std::atan2(b, a) : 0;
  const double l50 = (lab.L - 50) * (lab.L - 50);
  const double t = 1 - 0.17 * std::cos(h - 30 * kRadian) + 0.24 * std::cos(2 * h) +
                   0.32 * std::cos(3 * h + 6 * kRadian) - 0.20 * std::cos(4 * h - 63 * kRadian);
  const double sl = 1 + 0.015 * l50 / std::sqrt(20 + l50);
  const double sc = 1 + 0.045 * c;
  const double sh = 1 + 0.015 * c * t;
  const double turn = ((h < 0 ? h + 2 * std::numbers::pi : h) / kRadian - 275) / 25;
  const double rt = -std::sin(60 * kRadian * std::exp(-turn * turn)) * 2 * saturation(c);

  Eigen::Matrix3d polar = Eigen::Matrix3d::Zero();  // Lab → ΔL, ΔC', ΔH'
  polar(0, 0) = 1;
  polar.row(1) << 0, stretch * std::cos(h), std::sin(h);
  polar.row(2) << 0, -stretch * std::sin(h), std::cos(h);

  // l² + c² + h² + R_T c h = l² + (c + R_T h / 2)² + (1 − R_T² / 4) h², (22)
  Eigen::Matrix3d weights = Eigen::Matrix3d::Zero();
  weights(0, 0) = 1 / sl;
  weights(1, 1) = 1 / sc;
  weights(1, 2) = rt / 2 / sh;
  weights(2, 2) = std::sqrt(1 - rt * rt / 4) / sh;
  return weights * polar;
}

Eigen::Matrix3d lab_by_xyz(const XyzD50& xyz) {
  // Derivative of the cube root and of its tangent, ISO/CIE 11664-4.
  const auto slope = [](double t) {
    constexpr double kEdge = 6.0 / 29.0;
    if (t <= kEdge * kEdge * kEdge) return 1 / (3 * kEdge * kEdge);
    const double root = std::cbrt(t);
    return 1 / (3 * root * root);
  };
  const double fx = slope(xyz.X / kWhiteD50.X) / kWhiteD50.X;
  const double fy = slope(xyz.Y / kWhiteD50.Y) / kWhiteD50.Y;
  const double fz = slope(xyz.Z / kWhiteD50.Z) / kWhiteD50.Z;
  Eigen::Matrix3d d;
  d << 0, 116 * fy, 0,         //
      500 * fx, -500 * fy, 0,  //
      0, 200 * fy, -200 * fz;
  return d;
}

}  // namespace inkwane::target
