// Maps of change, cell by cell, that need one side only.
#pragma once

#include "change/colour_space.hpp"
#include "change/ink_law.hpp"
#include "change/region_colour.hpp"

namespace inkwane::change {

/// Sheet, less what was not measured at both stages.
struct CellMaps {
  cv::Mat difference, lost_ink, gained_colour;  ///< CV_32FC1, docs/formats.md "Maps"
  cv::Mat residual_added;                       ///< likewise; empty where no region is added colour
  double sheet_mm2 = 0;
  results::LostInk lost;
  results::ColourArea gained;
};

[[nodiscard]] CellMaps map_cells(const SideContext& context, const Drift& drift,
                                 const SheetLaws& laws, int from, int to);

/// A rise or fall of absorption counts when it is this many of its own standard uncertainties.
inline constexpr float kCounts = 4;
/// CIEDE2000 from which a gain of colour counts as area, docs/formats.md.
inline constexpr float kSeen = 2;

/// How the sheet's paper as a whole changed, and what a cell's change of absorption is beyond that.
class OverallChange {
 public:
  /// Sharpened RGB of the paper at the two stages.
  OverallChange(const Eigen::Vector3d& paper_from, const Eigen::Vector3d& paper_to);
  /// Rise of K/S of channel c from reflectance a (K/S ka) to b, beyond the paper's. How a change of
  /// the paper shows through an ink depends on the ink: as a sum of K/S if they are mixed, as a
  /// factor of reflectance under a film. The smaller rise of the two is taken, so that neither
  /// reads a lighter or darker paper as colour gained on an ink.
  [[nodiscard]] float rise(int c, float ka, float b, float kb) const {
    const float mixed = kb - ka - sum_[c];
    const float film = ks(b * factor_[c]) - ka;
    return mixed < film ? mixed : film;
  }

 private:
  float sum_[3], factor_[3];
};

/// Σ over cells of a map that reach kSeen.
[[nodiscard]] results::ColourArea seen_area(const cv::Mat& map, double cell_mm2, double sheet_mm2);
/// How much of the sheet a map puts at or above CIEDE2000 1, 2 and 5 (docs/formats.md, "above").
[[nodiscard]] std::vector<results::AreaAbove> areas_above(const cv::Mat& map, double cell_mm2,
                                                          double sheet_mm2);

}  // namespace inkwane::change
