// Results → report.html. Formats only; computes nothing.
#pragma once

#include <filesystem>

#include <inkwane/results.hpp>

namespace inkwane::report {

/// Writes `folder`/report.html from the results and the pictures that lie in `folder` (maps/,
/// images/), as one self-contained file. Throws Error(output).
void write_report(const std::filesystem::path& folder, const results::Results& results);

}  // namespace inkwane::report
