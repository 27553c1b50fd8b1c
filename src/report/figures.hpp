// Numbers, dates and colours as a reader sees them. A number that could not be had is a dash.
#pragma once

#include <string>

#include <inkwane/course.hpp>
#include <inkwane/results.hpp>

namespace inkwane::report {

/// Decimals, with a true minus; `sign`: a plus as well.
[[nodiscard]] std::string decimal(double value, int decimals, bool sign = false);
/// Per cent, "83 %".
[[nodiscard]] std::string percent(double share, int decimals = 0);
/// Per cent of a small share, with a decimal where it is below ten: "0.4 %".
[[nodiscard]] std::string small_percent(double share);
/// Whole mm² from 100 on, else one decimal; thousands set apart.
[[nodiscard]] std::string area(double mm2);
/// "2 March 2026" from an ISO 8601 date; anything else as it is.
[[nodiscard]] std::string date(const std::string& iso);
/// "#rrggbb" of the sRGB colour nearest to a colour.
[[nodiscard]] std::string css_colour(const LabD50& lab);

/// The same of what may not be had, or not be finite: then a dash.
[[nodiscard]] std::string decimal(const results::Number& value, int decimals, bool sign = false);
[[nodiscard]] std::string percent(const results::Number& value);
/// "3.71 to 4.47"; "78 to 87 %".
[[nodiscard]] std::string interval(const results::Interval& ends, int decimals);
[[nodiscard]] std::string percent_interval(const results::Interval& ends);
/// "83 % (78 to 87 %)".
[[nodiscard]] std::string estimate(const std::optional<results::Estimate>& estimate);

/// Whether there is a number to show.
[[nodiscard]] bool known(const results::Number& value);

}  // namespace inkwane::report
