// The steps of a treatment: which kinds there are, which keys each may have, and how they read.
#pragma once

#include <inkwane/treatment.hpp>

#include "treatment/toml_table.hpp"

namespace inkwane::treatment {

/// A [[stage.step]]. Throws Error(usage) for an unknown kind, a key that this kind does not have,
/// or a value of the wrong type or out of range.
[[nodiscard]] Step read_step(const Table& table);

/// Whether the sheet meets a liquid in a step of this kind.
[[nodiscard]] bool is_wet(const Step& step);

}  // namespace inkwane::treatment
