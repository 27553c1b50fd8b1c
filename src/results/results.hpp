// Results → results.json, regions.csv and findings.csv, and back.
#pragma once

#include <filesystem>
#include <string>

#include <inkwane/results.hpp>

namespace inkwane::results {

/// "card", "scans" or "none".
[[nodiscard]] std::string to_string(StrayLight::Source source);

/// The text of results.json (docs/formats.md). Byte-identical for equal results.
[[nodiscard]] std::string to_json(const Results& results);
/// The text of regions.csv: one row a region and change; commas, dot decimals, RFC 4180.
[[nodiscard]] std::string to_csv(const Results& results);
/// The text of findings.csv: one row a finding (docs/formats.md), in the same form.
[[nodiscard]] std::string findings_csv(const Findings& findings);
/// Reads what to_json wrote. Throws Error(scan) that names the file.
[[nodiscard]] Results read_results(const std::filesystem::path& file);

}  // namespace inkwane::results
