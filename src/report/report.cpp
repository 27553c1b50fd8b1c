#include "report/report.hpp"

#include "map/output_file.hpp"
#include "report/content/content.hpp"
#include "report/html/html.hpp"
#include "report/pdf/pdf.hpp"

namespace inkwane::report {

void write_report(const std::filesystem::path& folder, const results::Results& results,
                  const Options& options, const std::filesystem::path& destination) {
  const Document document = make_document(results, options);
  const std::string page = to_html(document, results, folder), pdf = to_pdf(document, folder);
  map::OutputFile html_file(destination / "report.html"), pdf_file(destination / "report.pdf");
  html_file.write(page);
  pdf_file.write(pdf);
  html_file.commit();
  pdf_file.commit();
}

}  // namespace inkwane::report
