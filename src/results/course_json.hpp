// The course of a treatment as results.json holds it, and back.
#pragma once

#include "results/json_values.hpp"

namespace inkwane::results {

/// `course`; null where there is none.
[[nodiscard]] Json course_to_json(const std::optional<Course>& course);
/// Reads what course_to_json wrote. Throws std::exception.
[[nodiscard]] std::optional<Course> course_from_json(const Json& json);

}  // namespace inkwane::results
