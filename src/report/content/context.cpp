#include <algorithm>

#include "report/content/content.hpp"
#include "report/figures.hpp"
#include "report/words.hpp"

namespace inkwane::report {

Text Context::measured(const std::string& number) const {
  Text text = plain(number);
  if (!results.calibrated && number != say("common.none"))
    text.push_back({say("common.uncalibrated"), Run::Look::mark, {}});
  return text;
}

const results::SideChange* Context::whole_change(Side side) const {
  const auto found = results.sides.find(side);
  if (found == results.sides.end()) return nullptr;
  const auto images = before_and_after(side);
  for (const results::SideChange& change : found->second.changes) {
    if (images.size() == 2 && change.from == images[0]->stage && change.to == images[1]->stage)
      return &change;
  }
  return nullptr;
}

const results::RegionChange* Context::whole_change(const results::Region& region) const {
  if (region.stages.size() < 2) return nullptr;
  for (const results::RegionChange& change : region.changes) {
    if (change.from == region.stages.front().first && change.to == region.stages.back().first)
      return &change;
  }
  return nullptr;
}

const Stage* Context::stage(const std::string& id) const {
  for (const Stage& stage : results.stages)
    if (stage.id == id) return &stage;
  return nullptr;
}

const results::Region* Context::region(const std::string& id) const {
  for (const results::Region& region : results.regions)
    if (region.id == id) return &region;
  return nullptr;
}

std::vector<const results::Image*> Context::before_and_after(Side side) const {
  std::vector<const results::Image*> images;
  for (const Stage& stage : results.stages) {
    for (const results::Image& image : results.images) {
      if (image.side != side || image.stage != stage.id) continue;
      if (images.size() == 2) images.pop_back();
      images.push_back(&image);
    }
  }
  return images;
}

const std::string& name_of(const results::Region& region) {
  return region.name.empty() ? region.id : region.name;
}

std::string names_in_words(const std::vector<std::string>& names) {
  constexpr std::size_t kMost = 5;
  std::string text;
  for (std::size_t i = 0; i < std::min(names.size(), kMost); ++i)
    text += (i > 0 ? ", " : "") + names[i];
  return names.size() > kMost ? text + " …" : text;
}

std::string in_words(Side side) {
  return say(side == Side::recto ? "common.recto" : "common.verso");
}

std::string in_words(Role role) {
  return say("roles." + to_string(role));
}

Swatches swatches_of(const results::Region& region, const results::RegionChange& change) {
  Swatches swatches;
  for (const auto& [stage, colour] : region.stages) {
    if (stage == change.from) swatches.before = css_colour(colour.lab);
    if (stage == change.to) swatches.after = css_colour(colour.lab);
  }
  return swatches;
}

std::vector<Point> points_in(const results::Frame& frame, const std::vector<Point>& px) {
  std::vector<Point> points;
  for (const Point& p : px)
    points.push_back(
        {(p.x - frame.origin_px.x) / frame.pitch_px, (p.y - frame.origin_px.y) / frame.pitch_px});
  return points;
}

Text warning_text(const std::string& sentence) {
  return strong(say("common.warning")) + plain(" " + sentence);
}

Cell cell(Text text) {
  return {std::move(text), {}, false};
}
Cell cell(std::string text) {
  return cell(plain(std::move(text)));
}
Cell warning_cell(const std::string& sentence) {
  return {warning_text(sentence), {}, true};
}

Block section(const std::string& title, const std::string& id, const std::string& nature) {
  return {Heading{2, title, id, nature}, true, false, false};
}
Block part_heading(const std::string& title, const std::string& id, const std::string& nature) {
  return {Heading{3, title, id, nature}, true, false, false};
}
Block intro(const std::string& text) {
  Block note = paragraph(text, Paragraph::Look::note);
  note.with_next = true;
  return note;
}
Block paragraph(Text text, Paragraph::Look look) {
  return {Paragraph{std::move(text), look}, false, false, false};
}
Block paragraph(const std::string& text, Paragraph::Look look) {
  return paragraph(plain(text), look);
}

Document make_document(const results::Results& all, const Options& options) {
  const results::Results results = options.client ? for_client(all) : all;
  const Context context{results, options};
  Document document;
  document.client = options.client;
  document.title = results.object.title;
  document.identifier = results.object.identifier;
  document.author = results.record.conservator;
  document.subject = results.object.description;
  document.version = results.version;
  add_front(document, context);
  add_record(document, context);
  add_viewers(document, context);
  add_regions(document, context);
  add_sheet(document, context);
  add_maps(document, context);
  add_findings(document, context);
  add_course(document, context);
  add_certainty(document, context);
  add_warnings(document, context);
  add_reading(document);
  add_cautions(document);
  add_statement(document);
  add_files(document, context);
  return document;
}

}  // namespace inkwane::report
