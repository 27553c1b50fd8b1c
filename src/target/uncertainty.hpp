// How sure the colours of several scans are, together: what errs alike must cancel in differences.
#pragma once

#include <array>
#include <span>

#include "target/fit.hpp"

namespace inkwane::target {

/// One mean colour, as measured in one scan.
struct ColourAt {
  int scan = 0;           ///< index into the scans
  Eigen::Vector3d light;  ///< averaged light there
  /// Colours of one place of the sheet, at several stages, have the same number: there a fading ink
  /// errs alike. Below zero: of no place, in the colours the target itself was printed with.
  int place = -1;
  /// Of a place: absorption above what lies under it, a channel, in K/S and as density. Fading
  /// alone leaves the direction of one of them as it was.
  std::array<Eigen::Vector3d, 2> absorption{Eigen::Vector3d::Zero(), Eigen::Vector3d::Zero()};
  /// What the errors of TargetReadings::log_errors do to ln light there: 3 × errors, or none.
  Eigen::MatrixXd log_errors{};
};

/// How well the same target reads the same in several scans.
struct Repeatability {
  std::vector<double> patch_dE00;  ///< between two scans, patch by patch, after the fits
  double rms_dE00 = 0;
};
[[nodiscard]] Repeatability repeatability(const Fit& one, const Fit& two);

/// Joint covariance (3K × 3K, Lab D50) of K colours over the given scans. Systematic parts (the
/// reference's and the model's errors) are shared between scans and fade with the distance of the
/// colours, slowly along the fading of one place's ink; inks of the sheet are other than the
/// target's, and wider for it. Errors that all scans share (log_errors) move light and fit
/// together. Each scan adds its own part, sized by the repeatability of the target between scans.
/// Uncalibrated scans get a wide, documented default.
[[nodiscard]] Eigen::MatrixXd joint_covariance(std::span<const Fit* const> scans,
                                               std::span<const ColourAt> colours);

}  // namespace inkwane::target
