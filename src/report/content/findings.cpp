// What was found beside the named places; and, where nothing was, what would have been.
#include <cmath>

#include "report/content/content.hpp"
#include "report/figures.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

using Align = Column::Align;
using results::DetectionLimit;
using results::Findings;

std::string at_words(const Point& at) {
  return say("findings.at", fmt::arg("x", decimal(at.x, 0)), fmt::arg("y", decimal(at.y, 0)));
}

std::string pair_words(const std::string& from, const std::string& to) {
  return from.empty() ? std::string()
                      : say("common.pair", fmt::arg("from", from), fmt::arg("to", to));
}

/// A colour, and where given the one it stands against.
Cell colours(const LabD50& lab, const LabD50* other = nullptr) {
  Cell shown;
  shown.swatches.before = css_colour(lab);
  if (other != nullptr) shown.swatches.after = css_colour(*other);
  return shown;
}

/// What a search would have found at the least; whether it was made at all.
void add_limits(Document& document, const Findings& findings, const std::string& what, bool found) {
  List list;
  for (const DetectionLimit& limit : findings.limits) {
    if (limit.what != what) continue;
    std::string size;
    if (limit.area_mm2 > 0)
      size += say("findings.limit_area", fmt::arg("area", decimal(limit.area_mm2, 1)));
    if (limit.length_mm > 0)
      size += say("findings.limit_length", fmt::arg("length", decimal(limit.length_mm, 0)));
    const std::string pair =
        limit.from.empty()
            ? std::string()
            : say("findings.limit_pair", fmt::arg("from", limit.from), fmt::arg("to", limit.to));
    list.items.push_back(
        plain(say("findings.limit", fmt::arg("side", in_words(limit.side)), fmt::arg("pair", pair),
                  fmt::arg("contrast", decimal(limit.contrast_dE00, 1)), fmt::arg("size", size))));
  }
  if (!found) {
    const bool searched = !list.items.empty();
    document.add(paragraph(say(searched ? "findings.nothing" : "findings.not_searched")));
  }
  if (!list.items.empty()) document.add({list, false, false, false});
}

void add_still_shows(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  document.add(part_heading(say("findings.still_shows"), "still-shows"));
  if (!findings.still_shows.empty()) {
    Table table;
    table.label = say("findings.still_shows");
    table.columns = {{say("findings.place"), Align::left, 2.6},
                     {say("findings.colour"), Align::left, 1.2},
                     {say("findings.contrast"), Align::right, 1},
                     {say("findings.left"), Align::right, 0.8},
                     {say("findings.area"), Align::right, 0.9}};
    for (const auto& patch : findings.still_shows) {
      const auto* region = context.region(patch.region);
      Text place = region == nullptr ? plain(patch.region) : strong(name_of(*region));
      place = place + soft(fmt::format("  {}, {}, {}", in_words(patch.place.side),
                                       at_words(patch.place.at_mm), patch.stage));
      table.rows.push_back({cell(place), colours(patch.lab, &patch.around),
                            cell(context.measured(decimal(patch.contrast_dE00, 1))),
                            cell(context.measured(percent(patch.residual))),
                            cell(area(patch.place.area_mm2))});
    }
    document.add({table, false, false, false});
  }
  add_limits(document, findings, "still_shows", !findings.still_shows.empty());
}

void add_tidelines(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  document.add(part_heading(say("findings.tidelines"), "tidelines"));
  if (!findings.tidelines.empty()) {
    Table table;
    table.label = say("findings.tidelines");
    table.columns = {{say("findings.place"), Align::left, 2},
                     {say("findings.between"), Align::left, 1},
                     {say("findings.length"), Align::right, 1},
                     {say("findings.width"), Align::right, 1},
                     {say("findings.contrast"), Align::right, 1}};
    for (const auto& line : findings.tidelines)
      table.rows.push_back({cell(fmt::format("{}, {}", in_words(line.side), at_words(line.at_mm))),
                            cell(pair_words(line.from, line.to)), cell(decimal(line.length_mm, 0)),
                            cell(decimal(line.width_mm, 1)),
                            cell(context.measured(decimal(line.contrast_dE00, 1)))});
    document.add({table, false, false, false});
  }
  add_limits(document, findings, "tidelines", !findings.tidelines.empty());
}

void add_sources(Document& document, const Context& context) {
  const auto* change = context.whole_change(Side::verso);
  if (change == nullptr || !change->bleed_through) return;
  document.add(part_heading(say("findings.sources"), "sources", say("common.interpretation")));
  const auto& sources = change->bleed_through->sources;
  if (!sources.empty()) {
    document.add(paragraph(say("findings.sources_note"), Paragraph::Look::note));
    Table table;
    table.label = say("findings.sources");
    table.columns = {{say("findings.source"), Align::left, 3},
                     {say("findings.share"), Align::right, 1}};
    double rest = 1;
    for (const results::Source& source : sources) {
      rest -= source.share;
      Cell shown = colours(source.lab);
      shown.text = soft(fmt::format("L* {}, a* {}, b* {}", decimal(source.lab.L, 0),
                                    decimal(source.lab.a, 0), decimal(source.lab.b, 0)));
      table.rows.push_back({shown, cell(context.measured(percent(source.share, 0)))});
    }
    table.rows.push_back({cell(say("findings.unexplained")),
                          cell(context.measured(percent(std::max(0.0, rest), 0)))});
    document.add({table, false, false, false});
  }
  add_limits(document, context.results.findings, "bleed_through", !sources.empty());
}

void add_suspects(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  document.add(part_heading(say("findings.suspects"), "suspects", say("common.interpretation")));
  if (!findings.suspects.empty()) {
    document.add(paragraph(say("findings.suspects_note"), Paragraph::Look::note));
    Table table;
    table.label = say("findings.suspects");
    table.columns = {{say("findings.place"), Align::left, 1.8},
                     {say("findings.area"), Align::right, 0.8},
                     {say("findings.score"), Align::right, 0.7},
                     {say("findings.reason"), Align::left, 4}};
    for (const auto& suspect : findings.suspects) {
      Cell place = colours(suspect.lab);
      place.text = strong(suspect.id) + soft(fmt::format("  {}, {}", in_words(suspect.place.side),
                                                         at_words(suspect.place.at_mm)));
      table.rows.push_back({place, cell(area(suspect.place.area_mm2)),
                            cell(context.measured(decimal(suspect.score, 2))),
                            cell(suspect.reason)});
    }
    document.add({table, false, false, false});
  }
  add_limits(document, findings, "suspects", !findings.suspects.empty());
}

void add_inks(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  if (findings.inks.empty()) return;
  document.add(part_heading(say("findings.inks"), "inks"));
  document.add(paragraph(say("findings.inks_note"), Paragraph::Look::note));
  Table table;
  table.label = say("findings.inks");
  table.columns = {
      {say("findings.ink"), Align::left, 2.4},   {say("findings.area"), Align::right, 1},
      {say("findings.between"), Align::left, 1}, {say("findings.kept"), Align::right, 1},
      {say("course.ci"), Align::right, 1.4},     {say("findings.worst"), Align::left, 1.9}};
  for (const auto& ink : findings.inks) {
    Cell name = colours(ink.lab);
    name.text = strong(ink.name) + soft("  " + in_words(ink.side));
    if (ink.changes.empty())
      table.rows.push_back(
          {name, cell(area(ink.area_mm2)), cell(""), cell(""), cell(""), cell("")});
    for (const auto& change : ink.changes) {
      const std::string worst =
          known(change.worst_kept)
              ? say("findings.worst_at", fmt::arg("value", percent(change.worst_kept)),
                    fmt::arg("x", decimal(change.worst_at_mm.x, 0)),
                    fmt::arg("y", decimal(change.worst_at_mm.y, 0)))
              : say("common.none");
      table.rows.push_back({name, cell(area(ink.area_mm2)),
                            cell(pair_words(change.from, change.to)),
                            cell(context.measured(percent(change.mean_kept))),
                            cell(percent_interval(change.mean_kept_ci95)), cell(worst)});
    }
  }
  document.add({table, false, false, false});
}

void add_blotters(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  if (findings.blotters.empty()) return;
  document.add(part_heading(say("findings.blotters"), "blotters"));
  for (const auto& blotter : findings.blotters) {
    Table table;
    table.label = blotter.id;
    table.columns = {{fmt::format("{} {}", say("findings.blotter"), blotter.id), Align::left, 3},
                     {say("findings.share"), Align::right, 1},
                     {say("course.ci"), Align::right, 1.4}};
    Cell head = colours(blotter.blank_lab, &blotter.lab);
    head.text = plain(blotter.sentence);
    table.rows.push_back({head});
    for (const auto& match : blotter.matches)
      table.rows.push_back({cell(plain(match.name) + soft(", " + in_words(match.role))),
                            cell(context.measured(percent(match.share, 0))),
                            cell(percent_interval(match.share_ci95))});
    if (known(blotter.unexplained))
      table.rows.push_back({cell(say("findings.unexplained")),
                            cell(context.measured(percent(blotter.unexplained))), cell("")});
    const std::string took = !blotter.took_original
                                 ? say("findings.cannot_tell")
                                 : say(*blotter.took_original ? "common.yes" : "common.no");
    table.rows.push_back({cell(strong(say("findings.took_original")) + plain(": " + took))});
    for (const std::string& warning : blotter.warnings)
      table.rows.push_back({warning_cell(warning)});
    document.add({table, false, false, false});
  }
}

}  // namespace

void add_findings(Document& document, const Context& context) {
  if (context.results.stages.empty()) return;
  document.add(section(say("findings.title"), "findings", say("common.observation")));
  document.add(paragraph(say("findings.intro"), Paragraph::Look::note));
  add_still_shows(document, context);
  add_tidelines(document, context);
  add_inks(document, context);
  add_blotters(document, context);
  add_sources(document, context);
  add_suspects(document, context);
}

}  // namespace inkwane::report
