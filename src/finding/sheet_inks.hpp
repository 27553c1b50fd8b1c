// How each ink of the sheet fared, whether a region names it or not.
#pragma once

#include "finding/sheet_view.hpp"

namespace inkwane::finding {

/// The print's colours, found by clustering the first stage by direction of absorption; named added
/// colour and the suspects that were found before are left out. Appends them, largest first.
void find_sheet_inks(const SheetView& view, results::Findings& findings);

}  // namespace inkwane::finding
