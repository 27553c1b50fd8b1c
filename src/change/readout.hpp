// Colour before and after, and their difference with its interval, on a coarse grid: for a reader
// who points at a place.
#pragma once

#include "change/region_colour.hpp"

namespace inkwane::change {

/// Pitch of the coarse grid.
inline constexpr double kReadoutMm = 0.5;

/// Two stages of one side. Cell (0, 0) covers the first cells of the fine grid; NaN where less than
/// half of a cell was measured at both stages.
[[nodiscard]] Readout read_out(const SideContext& context, const Drift& drift, int from, int to);

}  // namespace inkwane::change
