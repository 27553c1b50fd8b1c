// Numbers, colours and places as results.json holds them, and back. Reading throws std::exception.
#pragma once

#include <nlohmann/json.hpp>

#include <inkwane/results.hpp>

namespace inkwane::results {

using Json = nlohmann::ordered_json;

/// Seven significant digits: finer than any measurement here, and free of binary tails. Null where
/// not finite.
[[nodiscard]] Json number(double value);
[[nodiscard]] Json number(const Number& value);
[[nodiscard]] Json interval(const Interval& value);
[[nodiscard]] Json lab(const LabD50& value);
[[nodiscard]] Json point(const Point& value);
[[nodiscard]] Json points(const std::vector<Point>& values);

[[nodiscard]] Json stamp(const RegionsStamp& value);

[[nodiscard]] RegionsStamp stamp_of(const Json& json);
[[nodiscard]] Number number_of(const Json& json);
[[nodiscard]] Interval interval_of(const Json& json);
[[nodiscard]] LabD50 lab_of(const Json& json);
[[nodiscard]] Point point_of(const Json& json);
[[nodiscard]] std::vector<Point> points_of(const Json& json);
[[nodiscard]] Side side_of(const Json& json);
[[nodiscard]] Role role_of(const Json& json);

}  // namespace inkwane::results
