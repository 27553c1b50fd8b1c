// What was changed and by how much → what a conservator should know beside the regions: what still
// shows, tidelines, suspected added colour, the sheet's inks.
#pragma once

#include "finding/sheet_view.hpp"

namespace inkwane::finding {

/// All findings of the sides given, recto before verso.
[[nodiscard]] results::Findings find_all(const std::vector<SheetView>& sides);

}  // namespace inkwane::finding
