// Results → the blocks of the report, section by section, in the order in which they stand.
#pragma once

#include "report/document.hpp"
#include "report/report.hpp"

namespace inkwane::report {

/// What every section needs.
struct Context {
  const results::Results& results;
  const Options& options;

  /// A number that rests on colour: marked where nothing was calibrated.
  [[nodiscard]] Text measured(const std::string& number) const;
  /// All of one side and of the whole treatment: the first and the last stage that shows it; none
  /// where it was scanned once or never.
  [[nodiscard]] const results::SideChange* whole_change(Side side) const;
  [[nodiscard]] const results::RegionChange* whole_change(const results::Region& region) const;
  [[nodiscard]] const Stage* stage(const std::string& id) const;
  [[nodiscard]] const results::Region* region(const std::string& id) const;
  /// First and last picture of a side; one where there is but one.
  [[nodiscard]] std::vector<const results::Image*> before_and_after(Side side) const;
};

void add_front(Document& document, const Context& context);
void add_record(Document& document, const Context& context);
void add_viewers(Document& document, const Context& context);
void add_regions(Document& document, const Context& context);
void add_sheet(Document& document, const Context& context);
void add_maps(Document& document, const Context& context);
void add_findings(Document& document, const Context& context);
void add_course(Document& document, const Context& context);
void add_certainty(Document& document, const Context& context);
void add_warnings(Document& document, const Context& context);
void add_reading(Document& document);
void add_cautions(Document& document);
void add_statement(Document& document);
void add_files(Document& document, const Context& context);

/// The same without names and places of files in its warnings.
[[nodiscard]] results::Results for_client(results::Results results);

/// The whole report.
[[nodiscard]] Document make_document(const results::Results& all, const Options& options);

/// A region's name, or its id where it has none.
[[nodiscard]] const std::string& name_of(const results::Region& region);
/// "red of the petals, violet"; at most five, then "…".
[[nodiscard]] std::string names_in_words(const std::vector<std::string>& names);
[[nodiscard]] std::string in_words(Side side);
[[nodiscard]] std::string in_words(Role role);
/// How much a change is, on the scale of the report: "slight", "slight to noticeable".
[[nodiscard]] std::string in_words(const results::RegionChange& change);
[[nodiscard]] Swatches swatches_of(const results::Region& region,
                                   const results::RegionChange& change);
[[nodiscard]] Text warning_text(const std::string& sentence);

/// Pixels of a side's first scan as pixels of a picture that lies at `frame`.
[[nodiscard]] std::vector<Point> points_in(const results::Frame& frame,
                                           const std::vector<Point>& px);

[[nodiscard]] Cell cell(Text text);
[[nodiscard]] Cell cell(std::string text);
/// A row of its own under the numbers that it makes doubtful.
[[nodiscard]] Cell warning_cell(const std::string& sentence);
[[nodiscard]] Block section(const std::string& title, const std::string& id,
                            const std::string& nature = {});
[[nodiscard]] Block part_heading(const std::string& title, const std::string& id = {},
                                 const std::string& nature = {});
/// A note below a heading, never parted from what it introduces.
[[nodiscard]] Block intro(const std::string& text);
[[nodiscard]] Block paragraph(Text text, Paragraph::Look look = Paragraph::Look::body);
[[nodiscard]] Block paragraph(const std::string& text,
                              Paragraph::Look look = Paragraph::Look::body);

}  // namespace inkwane::report
