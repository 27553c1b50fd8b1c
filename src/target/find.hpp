// Where the target lies in a scan.
#pragma once

#include <optional>

#include "colour/icc.hpp"
#include "scan/scan.hpp"
#include "target/reference.hpp"

namespace inkwane::target {

/// Share of a patch's side that is measured: its edges may be blurred or frayed.
inline constexpr double kMeasuredShare = 0.6;

/// A target found in a scan, in the scan's pixels.
struct Located {
  Corners corners;             ///< outer corners of the patches, in the order of the reference
  std::vector<Point> centres;  ///< of each patch, in the reference's order
  double patch_px = 0;         ///< side of the patches' flat part that may be measured
  std::vector<Point> card;     ///< outline of what must not be taken for the sheet: the patches and
                               ///< the card's border about them
  std::vector<bool> usable;    ///< of each patch: false where it is soiled, shaded or half covered
  scan::Survey survey;         ///< the reduced picture it was found in
  std::vector<std::string> warnings;
};

/// Finds the whole target at any quarter turn and a few degrees of tilt. Never guesses: throws
/// Error(scan) that names the file and says whether there is no target, only a part of it, a
/// mirrored one, or one whose colours are not the reference's, and how to give its corners.
[[nodiscard]] Located find_target(const scan::Scan& scan, const Reference& reference);

/// The same from corners given by hand; still refused if the patches are not there.
[[nodiscard]] Located locate_from_corners(const scan::Scan& scan, const Reference& reference,
                                          const Corners& corners);

/// What the scanner saw of one patch.
struct PatchReading {
  Eigen::Vector3d linear;          ///< trimmed mean of linear RGB (through the embedded profile)
  Eigen::Vector3d standard_error;  ///< of that mean
  Eigen::Vector3d spread;          ///< standard deviation of single pixels
  double clipped = 0;  ///< share of its pixels at either end of the scale in any channel
  bool usable = true;  ///< false: soiled, shaded or half covered (Located::usable)
};

[[nodiscard]] std::vector<PatchReading> read_patches(const scan::Scan& scan,
                                                     const colour::Linearisation& linearisation,
                                                     const Located& located);

}  // namespace inkwane::target
