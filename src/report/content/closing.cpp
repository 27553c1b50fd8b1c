// How sure it is, warnings, how to read it, cautions, the empty field, files.
#include <algorithm>

#include "report/content/content.hpp"
#include "report/figures.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

using Align = Column::Align;

bool scanned(const results::Results& results, Side side) {
  return std::any_of(results.scans.begin(), results.scans.end(),
                     [side](const results::Scan& scan) { return scan.side == side; });
}

std::string name_of(const results::Scan& scan) {
  const std::string name = fmt::format("{} {}", scan.stage, in_words(scan.side));
  return scan.repeat > 0 ? fmt::format("{}, {}", name, scan.repeat) : name;
}

/// How the two sides lie on each other.
std::string pairing(const results::Results& results) {
  const results::Sheet& sheet = results.sheet;
  std::string text = sheet.pairing_mm
                         ? say("sure.pairing", fmt::arg("mm", decimal(*sheet.pairing_mm, 2)))
                         : say("sure.pairing_none");
  text += " " + say(sheet.turn == Turn::side ? "sure.turn_side" : "sure.turn_top");
  if (!sheet.turn_seen) return text + " " + say("sure.turn_unknown");
  return *sheet.turn_seen == sheet.turn ? text : text + " " + say("sure.turn_differs");
}

/// The same sentence in several places is told once, with the places.
class WarningList {
 public:
  void add(const std::vector<std::string>& sentences, const std::string& place) {
    for (const std::string& sentence : sentences) {
      auto found = std::find_if(entries_.begin(), entries_.end(),
                                [&](const auto& entry) { return entry.first == sentence; });
      if (found == entries_.end()) found = entries_.insert(found, {sentence, {}});
      if (!place.empty()) found->second += (found->second.empty() ? "" : "; ") + place;
    }
  }

  [[nodiscard]] List list() const {
    List list;
    list.look = List::Look::warnings;
    for (const auto& [sentence, places] : entries_) {
      Text text = plain(sentence);
      if (!places.empty())
        text = text + soft(" " + say("warnings.place", fmt::arg("places", places)));
      list.items.push_back(std::move(text));
    }
    return list;
  }

 private:
  std::vector<std::pair<std::string, std::string>> entries_;
};

List all_warnings(const results::Results& results) {
  WarningList list;
  list.add(results.warnings, "");
  for (const results::Scan& scan : results.scans)
    list.add(scan.warnings, say("warnings.scan", fmt::arg("stage", scan.stage),
                                fmt::arg("side", in_words(scan.side))));
  for (const results::Region& region : results.regions) {
    const std::string place = say("warnings.region", fmt::arg("name", report::name_of(region)));
    list.add(region.warnings, place);
    for (const results::RegionChange& change : region.changes)
      list.add(change.warnings,
               place + ", " +
                   say("common.pair", fmt::arg("from", change.from), fmt::arg("to", change.to)));
  }
  for (const auto& [side, result] : results.sides)
    for (const results::SideChange& change : result.changes)
      list.add(change.warnings,
               in_words(side) + ", " +
                   say("common.pair", fmt::arg("from", change.from), fmt::arg("to", change.to)));
  list.add(results.findings.warnings, "");
  for (const auto& blotter : results.findings.blotters) list.add(blotter.warnings, blotter.id);
  if (results.course) list.add(results.course->warnings, "");
  return list.list();
}

/// ± of a colour that did not change, as measured.
Text repeatability(const Context& context) {
  const auto& measured = context.results.repeatability;
  if (!measured) return plain(say("sure.repeats_none"));
  const std::string from = measured->from == "untouched regions" ? say("sure.repeats_untouched")
                           : measured->from == "repeat scans"    ? say("sure.repeats_scans")
                                                                 : say("sure.repeats_other");
  return context.measured(say("sure.repeats", fmt::arg("u", decimal(measured->u_dE00, 2)),
                              fmt::arg("from", from),
                              fmt::arg("freedom", measured->degrees_of_freedom)));
}

Text stray_light(const results::StrayLight& stray) {
  using Source = results::StrayLight::Source;
  const auto kappa = decimal(stray.kappa, 2), u = decimal(stray.u_kappa, 2),
             length = decimal(stray.length_mm, 1), u_length = decimal(stray.u_length_mm, 1);
  if (stray.source == Source::none) return plain(say("sure.stray_none", fmt::arg("u", u)));
  return plain(say(stray.source == Source::card ? "sure.stray_card" : "sure.stray_scans",
                   fmt::arg("kappa", kappa), fmt::arg("u", u), fmt::arg("length", length),
                   fmt::arg("u_length", u_length)));
}

std::string moment(const std::string& iso) {
  constexpr std::size_t kToTheMinute = 16;  // "2026-03-02T09:30"
  return iso.empty() ? say("common.none") : date(iso.substr(0, kToTheMinute));
}

/// Since when the places are outlined as they are: whether that was before anything was measured.
Text stamp(const Context& context) {
  const results::RegionsStamp& stamp = context.results.regions_stamp;
  if (stamp.sha256.empty()) return plain(say("sure.stamp_none"));
  Text text = plain(say("sure.stamp", fmt::arg("when", moment(stamp.modified))));
  if (!stamp.earlier.empty()) {
    std::vector<std::string> times;
    for (const auto& [hash, when] : stamp.earlier) times.push_back(moment(when));
    text = text + plain(" ") +
           strong(say("sure.stamp_changed", fmt::arg("times", names_in_words(times))));
  }
  if (!context.options.client)
    text = text + plain(" ") + code(say("sure.stamp_hash", fmt::arg("sha256", stamp.sha256)));
  return text;
}

/// What places that nobody touched seem to have done.
Text untouched(const Context& context) {
  std::string list;
  for (const results::Region& region : context.results.regions) {
    if (!region.untouched) continue;
    const auto* change = context.whole_change(region);
    const std::string value = change == nullptr ? say("common.none") : decimal(change->dE00, 2);
    const std::string ends =
        change == nullptr ? say("common.none") : interval(change->dE00_ci95, 2);
    list += (list.empty() ? "" : "; ") + say("sure.untouched_one",
                                             fmt::arg("name", report::name_of(region)),
                                             fmt::arg("value", value), fmt::arg("ends", ends));
  }
  return list.empty() ? plain(say("sure.untouched_none"))
                      : context.measured(say("sure.untouched", fmt::arg("list", list)));
}

}  // namespace

void add_certainty(Document& document, const Context& context) {
  const results::Results& results = context.results;
  document.add(section(say("sure.title"), "sure"));
  document.add(paragraph(say(results.calibrated ? "sure.intro" : "sure.intro_uncalibrated")));
  Table table;
  table.label = say("sure.title");
  for (const auto& [key, weight] : {std::pair{"sure.scan", 1.4},
                                    {"sure.pixels", 1.7},
                                    {"sure.bits", 0.6},
                                    {"sure.dpi", 0.6},
                                    {"sure.left_out", 1.2},
                                    {"sure.p95", 0.7},
                                    {"sure.largest", 0.9},
                                    {"sure.residual", 1.3},
                                    {"sure.p95", 0.8},
                                    {"sure.stretch", 1},
                                    {"sure.stretch_y", 0.9}})
    table.columns.push_back(
        {say(key), key == std::string("sure.scan") ? Align::left : Align::right, weight});
  for (const results::Scan& scan : results.scans) {
    std::vector<Cell> row{
        cell(strong(name_of(scan))), cell(fmt::format("{} × {}", scan.width_px, scan.height_px)),
        cell(std::to_string(scan.bit_depth)), cell(decimal(scan.resolution_dpi, 0))};
    if (scan.target) {
      for (const double error : {scan.target->left_out_dE00_median, scan.target->left_out_dE00_p95,
                                 scan.target->left_out_dE00_max})
        row.push_back(cell(decimal(error, 2)));
    } else {
      row.insert(row.end(), {cell(say("sure.no_target")), cell(""), cell("")});
    }
    if (scan.registration) {
      row.push_back(cell(decimal(scan.registration->residual_mm_median, 3)));
      row.push_back(cell(decimal(scan.registration->residual_mm_p95, 3)));
      row.push_back(cell(decimal(scan.registration->stretch_x, 4)));
      row.push_back(cell(decimal(scan.registration->stretch_y, 4)));
    } else {
      row.insert(row.end(), {cell(say("sure.first")), cell(""), cell(""), cell("")});
    }
    table.rows.push_back(std::move(row));
  }
  if (!table.rows.empty()) document.add({table, false, false, false});
  Facts facts;
  if (!results.scans.empty()) {
    facts.rows.emplace_back(say("sure.repeats_label"), repeatability(context));
    facts.rows.emplace_back(say("sure.untouched_label"), untouched(context));
    facts.rows.emplace_back(say("sure.stray_label"), stray_light(results.stray_light));
  }
  if (scanned(results, Side::recto) && scanned(results, Side::verso))
    facts.rows.emplace_back(say("sure.pairing_label"), plain(pairing(results)));
  if (!results.regions.empty()) facts.rows.emplace_back(say("sure.stamp_label"), stamp(context));
  facts.rows.emplace_back(
      say("sure.settings_label"),
      plain(say("sure.settings", fmt::arg("aperture", fmt::format("{:g}", results.aperture_mm)),
                fmt::arg("grid", fmt::format("{:g}", results.grid_mm)))));
  document.add({facts, false, false, false});
}

void add_warnings(Document& document, const Context& context) {
  document.add(section(say("warnings.title"), "warnings"));
  List list = all_warnings(context.results);
  if (list.items.empty())
    document.add(paragraph(say("warnings.none")));
  else
    document.add({list, false, false, false});
}

void add_reading(Document& document) {
  document.add(section(say("reading.title"), "reading"));
  Facts facts;
  for (const auto& row : say_rows("reading.terms")) facts.rows.emplace_back(row[0], plain(row[1]));
  document.add({facts, false, false, false});
  document.add(part_heading(say("reading.lines")));
  Block caution = paragraph(say("grades.caution"), Paragraph::Look::note);
  caution.with_next = true;
  document.add(caution);
  Table table;
  table.label = say("reading.lines");
  table.columns = {{say("reading.line"), Align::left, 2},
                   {say("reading.value"), Align::left, 1.6},
                   {say("reading.source"), Align::left, 2}};
  for (const auto& row : say_rows("reading.references"))
    table.rows.push_back({cell(strong(row[0])), cell(row[1]), cell(row[2])});
  document.add({table, false, false, false});
}

void add_cautions(Document& document) {
  document.add(section(say("cautions.title"), "cautions"));
  for (const auto& group : say_rows("cautions.groups")) {
    document.add(part_heading(group[0]));
    List list;
    for (std::size_t i = 1; i < group.size(); ++i) list.items.push_back(plain(group[i]));
    document.add({list, false, false, false});
  }
}

void add_statement(Document& document) {
  Block heading = section(say("statement.title"), "statement", say("common.interpretation"));
  heading.new_page = true;  // to be filled in, and perhaps handed on alone
  document.add(heading);
  Block intro = paragraph(say("statement.intro"));
  intro.with_next = true;
  document.add(intro);
  document.add({Field{say("statement.field"), say("statement.signature")}, false, false, false});
}

void add_files(Document& document, const Context& context) {
  document.add(section(say("files.title"), "files"));
  document.add(paragraph(say("files.version", fmt::arg("version", context.results.version)) + " " +
                         say(context.options.client ? "files.client_copy" : "files.numbers")));
  if (context.options.client) return;
  const results::Results& results = context.results;
  Facts inputs;
  if (!results.treatment_sha256.empty())
    inputs.rows.emplace_back(say("files.treatment"), code(results.treatment_sha256));
  if (!results.stray_light.file.empty())
    inputs.rows.emplace_back(say("files.scanner"), code(results.stray_light.file));
  if (results.repeatability) {
    for (const auto& [file, sha256] : results.repeatability->files)
      inputs.rows.emplace_back(say("files.repeat"), code(file + "  " + sha256));
  }
  if (!inputs.rows.empty()) document.add({inputs, false, false, false});
  for (const results::Scan& scan : results.scans) {
    const bool none = scan.profile.empty() || scan.profile == "none";
    Facts facts;
    facts.rows = {{say("files.file"), code(scan.file)},
                  {say("files.sha256"), code(scan.sha256)},
                  {say("files.profile"), plain(none ? say("files.no_profile") : scan.profile)}};
    if (scan.target) facts.rows.emplace_back(say("files.correction"), plain(scan.target->model));
    document.add(part_heading(name_of(scan)));
    document.add({facts, false, false, false});
  }
  for (const auto& blotter : context.results.findings.blotters) {
    document.add(part_heading(
        say("findings.blotter", fmt::arg("id", blotter.id), fmt::arg("stage", blotter.stage))));
    document.add({Facts{{{say("files.file"), code(blotter.file)},
                         {say("files.sha256"), code(blotter.sha256)}}},
                  false, false, false});
  }
}

void add_viewers(Document& document, const Context& context) {
  bool any = false;
  for (const Side side : kSides) {
    if (context.before_and_after(side).size() < 2) continue;
    if (!any) {
      Block heading = section(say("viewer.title"), "look", say("common.observation"));
      heading.page_only = true;
      document.add(heading);
      Block intro = paragraph(say("viewer.intro"), Paragraph::Look::note);
      intro.page_only = true;
      document.add(intro);
      any = true;
    }
    document.add({Viewer{side}, false, false, true});
  }
}

}  // namespace inkwane::report
