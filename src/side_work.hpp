// One side of the sheet on its way through the rooms: from its scans to its changes.
#pragma once

#include <vector>

#include "align/stages.hpp"
#include "change/change.hpp"
#include "take.hpp"

namespace inkwane {

struct SideWork {
  std::vector<Taken*> scans;       ///< in the treatment's order
  std::vector<align::Warp> warps;  ///< one a later scan
  change::SideInput input;         ///< on the part of the first scan's grid that holds the sheet
  change::SideOutput output;
  std::vector<cv::Mat> pictures;  ///< sRGB of each layer, cut to `frame`
  cv::Rect frame;                 ///< of the sheet and a margin, in cells of `input`
};

[[nodiscard]] align::View view_of(const Taken& taken);

/// Lays out one side on its first stage's scan: the sheet, the regions. Throws Error(usage) for a
/// region that does not lie on it.
[[nodiscard]] SideWork lay_out(const Treatment& treatment, std::vector<Taken*> scans);

/// Cuts grids, sheet and regions to the sheet and what is needed about it. Cells keep their size
/// and places. Returns where the part lay in the first scan's grid.
cv::Rect cut_to_sheet(SideWork& work);

/// Aligns the stages with the first, and pictures them. Memory is short: the scans' grids are
/// released once their layers hold what is measured.
void align_side(const Treatment& treatment, SideWork& work);

/// The pixel of a later scan that shows each cell, CV_32FC2; NaN where it does not.
[[nodiscard]] cv::Mat positions(const SideWork& work, int to);

}  // namespace inkwane
