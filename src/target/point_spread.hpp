// How sharp a scan is, from the edges of the target's patches.
#pragma once

#include <array>
#include <optional>
#include <span>

#include "target/fit.hpp"

namespace inkwane::target {

/// A Gaussian by which the scanner blurs, before a pixel averages over its own square.
struct PointSpread {
  std::array<double, 2> sigma_px{0, 0};  ///< standard deviation along the scan's rows and columns
  double u_sigma_px = 0;                 ///< standard uncertainty of either
  /// Overshoot beside the edges, as a share of the step: what sharpening leaves. 0 for none.
  double overshoot = 0;
};

/// Of several scans of one scanner at one resolution: mean by their uncertainties. It is never
/// taken as surer than 3 % (two edges' profiles are not exactly Gaussian; common practice, no
/// source). At least one scan.
[[nodiscard]] PointSpread pooled(std::span<const PointSpread> scans);

/// Fits blurred steps to the patches' edges (the slanted-edge method of ISO 12233, from memory,
/// with a Gaussian for the unknown profile) and takes the trimmed mean along each axis. None where
/// fewer than eight edges an axis stand out enough.
[[nodiscard]] std::optional<PointSpread> measure_point_spread(const scan::Scan& scan,
                                                              const ScanColour& colour,
                                                              const Located& located);

}  // namespace inkwane::target
