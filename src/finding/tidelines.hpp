// Dark lines left where a liquid dried.
#pragma once

#include "finding/sheet_view.hpp"

namespace inkwane::finding {

/// Thin ridges of gained colour, between the first stage and each later one, that no edge of the
/// print explains, nor, on the verso, colour that came through. Appends them, and the least that
/// would have been found.
void find_tidelines(const SheetView& view, results::Findings& findings);

}  // namespace inkwane::finding
