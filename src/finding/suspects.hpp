// Places no region names that look like added colour.
#pragma once

#include "finding/sheet_view.hpp"

namespace inkwane::finding {

/// From the first stage alone, and from how places responded at every later stage; what speaks for
/// one place is put together. Appends them, and the least that each search would have found.
void find_suspects(const SheetView& view, results::Findings& findings);

}  // namespace inkwane::finding
