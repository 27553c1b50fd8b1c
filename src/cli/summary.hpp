// A short account of an assessment, for the terminal.
#pragma once

#include <filesystem>
#include <string>

#include <inkwane/results.hpp>

namespace inkwane::cli {

/// Regions, sides and warnings, and where the report lies. Plain text, UTF-8.
[[nodiscard]] std::string summary(const results::Results& results,
                                  const std::filesystem::path& folder);

}  // namespace inkwane::cli
