// The report as one self-contained page.
#pragma once

#include <filesystem>
#include <string>

#include "report/document.hpp"
#include "report/report.hpp"

namespace inkwane::report {

/// The page's text. Pictures and read-outs come from `folder`. Throws Error(output).
[[nodiscard]] std::string to_html(const Document& document, const results::Results& results,
                                  const std::filesystem::path& folder);

}  // namespace inkwane::report
