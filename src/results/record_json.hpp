// The treatment's record as results.json holds it, and back.
#pragma once

#include <nlohmann/json.hpp>

#include <inkwane/results.hpp>

namespace inkwane::results {

using Json = nlohmann::ordered_json;

/// Seven significant digits: finer than any measurement here, and free of binary tails. Null where
/// not finite.
[[nodiscard]] Json number(double value);
[[nodiscard]] Json number(const Number& value);

/// A number as a number, words as words.
[[nodiscard]] Json value_of(const Detail& detail);

/// `record`: object, people and consent, stages with their steps, spot tests.
[[nodiscard]] Json record_to_json(const Results& results);
/// Fills what record_to_json wrote, but for the way the sheet is turned. Throws std::exception.
void read_record(const Json& json, Results& results);

}  // namespace inkwane::results
