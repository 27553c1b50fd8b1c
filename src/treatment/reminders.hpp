// What a record lacks or may have wrong, and which stages cannot be compared as they are.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <inkwane/treatment.hpp>

namespace inkwane::treatment {

/// Slips of units in the steps, wet steps without a spot test, a sheet scanned too soon after
/// drying, and the later scan that would show reversion; each one sentence that names its place.
[[nodiscard]] std::vector<std::string> reminders(const Treatment& treatment);

/// Whether one of the two was scanned damp or wet and the other drier or wetter: water darkens
/// paper and lets light through, which reads as a change. The sentence says so.
[[nodiscard]] std::optional<std::string> damp_against_dry(const Stage& from, const Stage& to);

/// A warning for the scans of a stage that was not dry.
[[nodiscard]] std::optional<std::string> not_dry(const Stage& stage);

}  // namespace inkwane::treatment
