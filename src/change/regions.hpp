// What happened to each region between two stages.
#pragma once

#include "change/region_colour.hpp"

namespace inkwane::change {

/// Colours and changes of every region of a side, for the given pairs of stages.
[[nodiscard]] std::vector<results::Region> assess_regions(
    const SideContext& context, const std::vector<std::pair<int, int>>& pairs);

}  // namespace inkwane::change
