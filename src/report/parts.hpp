// Files built into the program: the words, and the page's skeleton, style and script.
#pragma once

#include <string_view>

namespace inkwane::report {

/// The text of words/en.toml, html/page.html, html/report.css or html/report.js, by its name alone.
/// Throws std::out_of_range.
[[nodiscard]] std::string_view part(std::string_view name);

}  // namespace inkwane::report
