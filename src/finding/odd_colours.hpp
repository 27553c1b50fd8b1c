// Places that look like added colour before anything was done to the sheet.
#pragma once

#include "finding/candidate.hpp"

namespace inkwane::finding {

/// Even patches of colour that no named ink makes, nor two of them over each other; more likely the
/// more they are like the added colour that is named, lie outside what the inks can mix, lack the
/// screen that the print's tints have, and are not met elsewhere.
[[nodiscard]] std::vector<Candidate> find_odd_colours(const SheetView& view,
                                                      const FirstStage& first);

/// Least contrast against the paper of a patch that is looked at.
[[nodiscard]] double odd_colour_limit(const SheetView& view);

}  // namespace inkwane::finding
