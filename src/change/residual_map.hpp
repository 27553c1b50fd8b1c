// Map of what remains of added colour.
#pragma once

#include "change/ink_law.hpp"
#include "change/region_colour.hpp"

namespace inkwane::change {

/// Share of the added colour that remains by this law of inks, cell by cell, in regions of added
/// colour; NaN elsewhere, and where Σ K/S of the added colour at `from` is not above `limit`. Empty
/// where the side has no such region.
[[nodiscard]] cv::Mat map_residual(const SideContext& context, InkLaw law, int from, int to,
                                   float limit);

}  // namespace inkwane::change
