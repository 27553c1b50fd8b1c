// What the commands that calculate beside the sink share: plain text in lines, and JSON with
// ranges.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "bath/estimate.hpp"

namespace inkwane::cli {

/// "0.400 (0.364 to 0.436) g/L"
[[nodiscard]] std::string with_range(const bath::Estimate& estimate, int decimals,
                                     const std::string& unit = "");

/// The label in a column of its own, then the text: one line of a result.
void print_line(const std::string& label, const std::string& text);

/// A heading and each sentence as an item, broken into lines; nothing where there are none.
void print_list(const std::string& heading, const std::vector<std::string>& sentences);

/// Sets `name` and `name_ci95`; both null where there is no estimate. Five significant digits.
void set(nlohmann::ordered_json& object, const std::string& name,
         const std::optional<bath::Estimate>& estimate);
[[nodiscard]] nlohmann::ordered_json number(const std::optional<double>& value);

/// {"inkwane": {"format": 1, "version": …}, "command": …}, to be filled.
[[nodiscard]] nlohmann::ordered_json start_json(const std::string& command);

}  // namespace inkwane::cli
