// What happened to each region between two stages.
#pragma once

#include "change/ink_law.hpp"
#include "change/region_colour.hpp"

namespace inkwane::change {

/// Colours and changes of every region of a side, for the given pairs of stages. `sheet` holds what
/// the other side's inks said of their law, and then what both sides' say.
[[nodiscard]] std::vector<results::Region> assess_regions(
    const SideContext& context, const std::vector<std::pair<int, int>>& pairs,
    SheetEvidence& sheet);

}  // namespace inkwane::change
