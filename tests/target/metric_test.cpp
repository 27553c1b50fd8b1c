// Protects the CIEDE2000 metric and the derivatives of Lab against the formulas themselves.
#include "target/metric.hpp"

#include <catch2/catch.hpp>

using namespace inkwane;
using namespace inkwane::target;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

TEST_CASE("a small step is as long in the metric as CIEDE2000 says") {
  // Neutral, saturated, and blue, where the rotation term acts.
  for (const LabD50 lab : {LabD50{50, 0.5, 0.3}, {20, 60, 30}, {70, -40, 10}, {35, 20, -60}}) {
    const Eigen::Matrix3d metric = ciede2000_metric(lab);
    for (const Eigen::Vector3d& step :
         {Eigen::Vector3d(1, 0, 0), {0, 1, 0}, {0, 0, 1}, {0.3, -0.8, 0.5}, {0, 0.7, 0.7}}) {
      const Eigen::Vector3d d = 1e-3 * step;
      const double exact = ciede2000({lab.L - d[0] / 2, lab.a - d[1] / 2, lab.b - d[2] / 2},
                                     {lab.L + d[0] / 2, lab.a + d[1] / 2, lab.b + d[2] / 2});
      CHECK_THAT((metric * d).norm(), WithinRel(exact, 1e-3));
    }
  }
}

TEST_CASE("derivatives of Lab by XYZ agree with differences, on both branches") {
  for (const XyzD50 xyz : {XyzD50{0.3, 0.4, 0.2}, {0.002, 0.003, 0.001}}) {
    const Eigen::Matrix3d d = lab_by_xyz(xyz);
    for (int k = 0; k < 3; ++k) {
      constexpr double kStep = 1e-7;
      Eigen::Vector3d up = vector_of(xyz), down = up;
      up[k] += kStep;
      down[k] -= kStep;
      const Eigen::Vector3d slope = (vector_of(to_lab(XyzD50{up[0], up[1], up[2]})) -
                                     vector_of(to_lab(XyzD50{down[0], down[1], down[2]}))) /
                                    (2 * kStep);
      for (int c = 0; c < 3; ++c) CHECK_THAT(d(c, k), WithinAbs(slope[c], 1e-4 * slope.norm()));
    }
  }
}
