// The pictures, crops and read-outs that lie beside results.json, as it names them, and back.
#pragma once

#include "results/json_values.hpp"

namespace inkwane::results {

/// Adds `images`, `crops` and `readouts`.
void put_pictures(const Results& results, Json& json);
/// Reads what put_pictures wrote. Throws std::exception.
void take_pictures(const Json& json, Results& results);

}  // namespace inkwane::results
