// What was found beside the regions, as results.json holds it ("findings", "suspects"), and back.
#pragma once

#include "results/json_values.hpp"

namespace inkwane::results {

/// Adds `findings` and `suspects` to the file's top level.
void write_findings(const Findings& findings, Json& file);
/// Throws std::exception.
[[nodiscard]] Findings read_findings(const Json& file);

/// The suspect as a [[region]] that can be pasted into the treatment file.
[[nodiscard]] std::string region_toml(const Suspect& suspect);

}  // namespace inkwane::results
