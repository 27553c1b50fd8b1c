// How sure the colours of several scans are, together: what errs alike must cancel in differences.
#pragma once

#include <span>

#include "target/fit.hpp"

namespace inkwane::target {

/// One mean colour, as measured in one scan.
struct ColourAt {
  int scan = 0;           ///< index into the scans
  Eigen::Vector3d light;  ///< averaged light there
};

/// How well the same target reads the same in several scans.
struct Repeatability {
  std::vector<double> patch_dE00;  ///< between two scans, patch by patch, after the fits
  double rms_dE00 = 0;
};
[[nodiscard]] Repeatability repeatability(const Fit& one, const Fit& two);

/// Joint covariance (3K × 3K, Lab D50) of K colours over the given scans. Systematic parts (the
/// reference's and the model's errors) are shared between scans and fade with the distance of the
/// colours; each scan adds its own part, sized by the repeatability of the target between scans.
/// Uncalibrated scans get a wide, documented default.
[[nodiscard]] Eigen::MatrixXd joint_covariance(std::span<const Fit* const> scans,
                                               std::span<const ColourAt> colours);

}  // namespace inkwane::target
