// The report as pages to be printed and kept: A4, real text, fonts embedded.
#pragma once

#include <filesystem>
#include <string>

#include "report/document.hpp"

namespace inkwane::report {

/// The file's bytes, PDF/A-2b as far as the project can tell (docs/formats.md, "report.pdf").
/// Pictures come from `folder`. The same document gives the same bytes. Throws Error(output).
[[nodiscard]] std::string to_pdf(const Document& document, const std::filesystem::path& folder);

}  // namespace inkwane::report
