// A short account of an assessment, for the terminal.
#pragma once

#include <filesystem>
#include <string>

#include <inkwane/results.hpp>

namespace inkwane::cli {

/// "84 % (81–87)": `factor` times the value and its ends; a dash where there is none.
[[nodiscard]] std::string with_interval(const results::Number& value, const results::Interval& ends,
                                        double factor, int decimals, const char* unit);

/// Regions, sides and warnings, and where the report lies. Plain text, UTF-8.
[[nodiscard]] std::string summary(const results::Results& results,
                                  const std::filesystem::path& folder);

}  // namespace inkwane::cli
