// Added colour that the eye still sees.
#pragma once

#include "finding/sheet_view.hpp"

namespace inkwane::finding {

/// Patches of the regions of role `added` that stand out, at a later stage, from what should be
/// there: the paper beside them, or the ink under them as it is then. Appends them, and the least
/// contrast that counts, for every stage after the first.
void find_still_shows(const SheetView& view, results::Findings& findings);

}  // namespace inkwane::finding
