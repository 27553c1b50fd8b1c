// The parts of the page (page/*.html, mustache templates, and page/report.css), built into the
// program. All that a reader of the report reads stands in them; the code only says which of it
// applies.
#pragma once

#include <string>
#include <vector>

namespace inkwane::report {

struct PagePart {
  std::string name;  ///< file name, e.g. "title.html"
  std::string text;
};

[[nodiscard]] const std::vector<PagePart>& page_parts();

}  // namespace inkwane::report
