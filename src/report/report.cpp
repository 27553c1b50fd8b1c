#include "report/report.hpp"

#include <stdexcept>

#include "report/page.hpp"
#include "report/view.hpp"
#include "results/output_folder.hpp"

namespace inkwane::report {

void write_report(const std::filesystem::path& folder, const results::Results& results) {
  data view = page_view(results, folder);
  const std::string* page = nullptr;
  for (const PagePart& part : page_parts()) {
    if (part.name == "page.html") page = &part.text;
    if (part.name == "report.css")
      view.set("style", part.text);
    else  // templates call each other by file name: {{>title.html}}
      view.set(part.name, kainjow::mustache::partial([&part] { return part.text; }));
  }
  kainjow::mustache::mustache whole(*page);
  const std::string html = whole.render(view);
  if (!whole.is_valid()) throw std::logic_error("report template: " + whole.error_message());

  results::write_text(folder / "report.html", html);
}

}  // namespace inkwane::report
