// How far the sheet's own bare paper strays from itself: what a search must exceed.
#pragma once

#include "finding/sheet_view.hpp"

namespace inkwane::finding {

/// CIEDE2000 between a cell of bare paper and the paper about it that 99 cells of 100 would stay
/// below were they spread as their median tells (stains and faint washes do not count). 0 where
/// there is no bare paper.
[[nodiscard]] double bare_paper_contrast(const SheetView& view, int stage);

}  // namespace inkwane::finding
