// The treatment's record as results.json holds it, and back.
#pragma once

#include "results/json_values.hpp"

namespace inkwane::results {

/// A number as a number, words as words.
[[nodiscard]] Json value_of(const Detail& detail);

/// `record`: object, people and consent, stages with their steps, spot tests.
[[nodiscard]] Json record_to_json(const Results& results);
/// Fills what record_to_json wrote, but for the way the sheet is turned. Throws std::exception.
void read_record(const Json& json, Results& results);

}  // namespace inkwane::results
