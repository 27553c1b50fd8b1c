// What happened to each region between two stages.
#pragma once

#include "change/ink_law.hpp"
#include "change/region_colour.hpp"
#include "change/share_series.hpp"

namespace inkwane::change {

struct AssessedRegions {
  std::vector<results::Region> regions;
  std::vector<ShareSeries> series;  ///< of inks and added colours that could be measured
};

/// Colours and changes of every region of a side, for the given pairs of stages. `sheet` holds what
/// the other side's inks said of their law, and then what both sides' say.
[[nodiscard]] AssessedRegions assess_regions(const SideContext& context,
                                             const std::vector<std::pair<int, int>>& pairs,
                                             SheetEvidence& sheet);

}  // namespace inkwane::change
