// Numbers, dates and colours as a reader sees them. A number that could not be had stays one.
#pragma once

#include <string>

#include <kainjow/mustache.hpp>

#include <inkwane/results.hpp>

namespace inkwane::report {

using kainjow::mustache::data;

/// Decimals, with a true minus; `sign`: a plus as well.
[[nodiscard]] std::string decimal(double value, int decimals, bool sign = false);
/// Per cent, "83 %".
[[nodiscard]] std::string percent(double share, int decimals = 0);
/// Whole mm² from 100 on, else one decimal; thousands set apart.
[[nodiscard]] std::string area(double mm2);
/// "2 March 2026" from an ISO 8601 date; anything else as it is.
[[nodiscard]] std::string date(const std::string& iso);
/// "#rrggbb" of the sRGB colour nearest to a colour.
[[nodiscard]] std::string css_colour(const LabD50& lab);

/// What the template number.html shows: `known`, `text`. Not finite counts as not had.
[[nodiscard]] data number(results::Number value, int decimals, bool sign = false);
[[nodiscard]] data share(results::Number value);
/// What interval.html shows: `known`, `text`, and `ci_known`, `from`, `to`.
[[nodiscard]] data number(results::Number value, const results::Interval& interval, int decimals);
[[nodiscard]] data share(results::Number value, const results::Interval& interval);

/// Texts as a list for {{#list}}{{.}}{{/list}}.
[[nodiscard]] data list_of(const std::vector<std::string>& texts);
/// A text, or false where it is empty, so that a section can ask for it.
[[nodiscard]] data text_or_none(const std::string& text);

}  // namespace inkwane::report
