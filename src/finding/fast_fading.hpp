// Places that gave way far more than the print did: they respond as added colour does.
#pragma once

#include "finding/candidate.hpp"

namespace inkwane::finding {

/// Patches that lost more of their strength between two stages than any named ink did, in some
/// channel and by either law of inks, and visibly so.
[[nodiscard]] std::vector<Candidate> find_fast_fading(const SheetView& view,
                                                      const FirstStage& first, int to);

/// CIEDE2000 of the loss, beyond what the print would have lost, from which a patch counts.
inline constexpr double kLeastLoss = 2;

}  // namespace inkwane::finding
