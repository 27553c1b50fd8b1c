#include "report/report.hpp"

#include <stdexcept>

#include "map/output_file.hpp"
#include "report/page.hpp"
#include "report/view.hpp"

namespace inkwane::report {

void write_report(const std::filesystem::path& folder, const results::Results& results) {
  data view = page_view(results, folder);
  const std::string* page = nullptr;
  for (const PagePart& part : page_parts()) {
    if (part.name == "page.html") page = &part.text;
    // Templates call each other by their stem; the style is plain data.
    const std::filesystem::path name(part.name);
    if (name.extension() == ".html")
      view.set(name.stem().string(), kainjow::mustache::partial([&part] { return part.text; }));
    else
      view.set("style", part.text);
  }
  kainjow::mustache::mustache whole(*page);
  const std::string html = whole.render(view);
  if (!whole.is_valid()) throw std::logic_error("report template: " + whole.error_message());

  map::OutputFile output(folder / "report.html");
  output.write(html);
  output.commit();
}

}  // namespace inkwane::report
