// The named places, one by one.
#include <algorithm>

#include "colour/grey_scale.hpp"
#include "report/content/content.hpp"
#include "report/draw/draw.hpp"
#include "report/figures.hpp"
#include "report/scale.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

using results::Region;
using results::RegionChange;
using Align = Column::Align;

/// "slight" and the like of one ΔE00.
const std::string& grade_word(double dE00) {
  if (dE00 < kNoticeable) return say("grades.slight");
  return say(dE00 <= kStrong ? "grades.noticeable" : "grades.strong");
}

std::string grey_scale(const RegionChange& change) {
  return known(change.grey_scale) ? colour::half_grade(*change.grey_scale) : say("common.none");
}

/// Strength kept of an ink, what is left of an added colour, with the interval; dashes else.
std::pair<std::string, std::string> kept_or_left(const Region& region, const RegionChange& change) {
  if (region.role == Role::ink)
    return {percent(change.strength_kept), percent_interval(change.strength_kept_ci95)};
  if (region.role == Role::added)
    return {percent(change.residual), percent_interval(change.residual_ci95)};
  return {};
}

std::string link_of(const Region& region) {
  return "place-" + region.id;
}

Text linked(const Region& region) {
  return {{name_of(region), Run::Look::strong, link_of(region)}};
}

void add_overview(Document& document, const Context& context) {
  Table table;
  table.columns = {
      {say("regions.region"), Align::left, 3.1}, {say("regions.dE00"), Align::right, 0.8},
      {say("regions.ci"), Align::right, 1.5},    {say("regions.in_words"), Align::left, 1.7},
      {say("regions.grey"), Align::right, 0.8},  {say("regions.kept_or_left"), Align::right, 1.2},
      {say("regions.ci"), Align::right, 1.5}};
  std::vector<IntervalRow> chart;
  for (const Region& region : context.results.regions) {
    const RegionChange* change = context.whole_change(region);
    if (change == nullptr) continue;
    const auto [value, ends] = kept_or_left(region, *change);
    Cell name = cell(linked(region) +
                     soft(fmt::format("  {}, {}", in_words(region.side), in_words(region.role))));
    name.swatches = swatches_of(region, *change);
    const std::string what = region.role == Role::ink     ? say("regions.kept_short")
                             : region.role == Role::added ? say("regions.left_short")
                                                          : "";
    table.rows.push_back(
        {name, cell(context.measured(decimal(change->dE00, 2))),
         cell(interval(change->dE00_ci95, 2)), cell(in_words(*change)), cell(grey_scale(*change)),
         cell(value.empty()
                  ? Text{}
                  : context.measured(value) + soft(value == say("common.none") ? "" : " " + what)),
         cell(ends)});
    if (known(change->dE00)) chart.push_back({name_of(region), *change->dE00, change->dE00_ci95});
  }
  if (table.rows.empty()) return;
  const auto& stages = context.results.stages;
  table.label = say("regions.overview", fmt::arg("from", stages.front().id),
                    fmt::arg("to", stages.back().id));
  document.add(part_heading(table.label, "overview"));
  document.add({table, false, false, false});
  if (chart.empty()) return;
  Plot plot = interval_chart(chart);
  plot.caption = context.measured(say("regions.chart")) + plain(" " + say("regions.lines"));
  plot.alt = say("regions.chart_alt");
  document.add({plot, false, false, false});
}

void add_scale(Document& document) {
  Table table;
  table.label = say("grades.intro");
  table.columns = {{say("grades.word"), Align::left, 1},
                   {say("grades.when"), Align::left, 1.9},
                   {say("grades.source"), Align::left, 3.4}};
  for (const std::string word : {"not_detectable", "slight", "noticeable", "strong"})
    table.rows.push_back({cell(strong(say("grades." + word))), cell(say("grades.when_" + word)),
                          cell(say("grades.source_" + word))});
  Block intro = paragraph(say("grades.intro"));
  intro.with_next = true;
  document.add(intro);
  document.add({table, false, false, false});
  document.add(
      paragraph(say("grades.caution") + " " + say("grades.grey_scale"), Paragraph::Look::note));
}

Gallery crops_of(const Context& context, const Region& region) {
  Gallery gallery;
  gallery.most_high_mm = 33;
  const auto& stages = region.stages;
  for (const results::Crop& crop : context.results.crops) {
    if (crop.region != region.id) continue;
    Picture picture;
    picture.file = crop.file;
    picture.frame = crop.frame;
    picture.marks = {{points_in(crop.frame, region.polygon), true, Mark::Look::solid, {}}};
    if (crop.stage.empty()) {
      picture.caption = plain(say("maps." + crop.map_kind));
      picture.alt = say("regions.map_alt", fmt::arg("name", name_of(region)));
    } else {
      const char* key = stages.size() < 2                    ? "regions.at_stage"
                        : crop.stage == stages.front().first ? "regions.before"
                                                             : "regions.after";
      picture.caption = plain(say(key, fmt::arg("stage", crop.stage)));
      picture.alt =
          say("regions.crop_alt", fmt::arg("name", name_of(region)), fmt::arg("stage", crop.stage));
    }
    gallery.pictures.push_back(std::move(picture));
  }
  return gallery;
}

/// What a region is, in a line.
std::string description(const Context& context, const Region& region) {
  std::string text = fmt::format("{} · {} · {}", in_words(region.side), in_words(region.role),
                                 say("common.mm2", fmt::arg("area", area(region.area_mm2))));
  if (region.untouched) text += " · " + say("regions.untouched");
  for (const results::Screen& screen : region.screens)
    text += " · " + say("regions.screen", fmt::arg("lpi", decimal(screen.lpi, 0)),
                        fmt::arg("angle", decimal(screen.angle_deg, 0)));
  if (region.role == Role::added && !region.under.empty()) {
    const auto* under = context.region(region.under);
    text +=
        " · " + (under == nullptr ? say("regions.lies_on_paper")
                                  : say("regions.lies_on_ink", fmt::arg("name", name_of(*under))));
  }
  return text;
}

/// The stage's row of the change since the first, where there is one.
const RegionChange* since_first(const Region& region, const std::string& stage) {
  for (const RegionChange& change : region.changes)
    if (change.from == region.stages.front().first && change.to == stage) return &change;
  return nullptr;
}

Table colours_of(const Context& context, const Region& region) {
  Table table;
  table.label = name_of(region);
  table.columns = {{say("regions.stage"), Align::left, 1.4}};
  for (const char* key : {"regions.L", "regions.u", "regions.a", "regions.u", "regions.b",
                          "regions.u", "regions.dL", "regions.dC", "regions.dH"})
    table.columns.push_back({say(key), Align::right, key == std::string("regions.u") ? 0.7 : 1.0});
  for (const auto& [stage, colour] : region.stages) {
    Cell first = cell(strong(stage));
    first.swatches.before = css_colour(colour.lab);
    std::vector<Cell> row{first};
    for (const auto& [value, u] : {std::pair{colour.lab.L, colour.u_lab.L},
                                   {colour.lab.a, colour.u_lab.a},
                                   {colour.lab.b, colour.u_lab.b}}) {
      row.push_back(cell(context.measured(decimal(value, 2))));
      row.push_back(cell(soft(decimal(u, 2))));
    }
    const RegionChange* change = since_first(region, stage);
    for (const results::Number RegionChange::*part :
         {&RegionChange::dL, &RegionChange::dC, &RegionChange::dH})
      row.push_back(change == nullptr ? cell("")
                                      : cell(context.measured(decimal((*change).*part, 2, true))));
    table.rows.push_back(std::move(row));
  }
  return table;
}

Table changes_of(const Context& context, const Region& region) {
  Table table;
  table.label = name_of(region);
  table.columns = {{say("regions.pair"), Align::left, 1.5},
                   {say("regions.dE00"), Align::right, 0.9},
                   {say("regions.ci"), Align::right, 1.5},
                   {say("regions.in_words"), Align::left, 1.9},
                   {say("regions.grey"), Align::right, 0.9}};
  const bool ink = region.role == Role::ink, added = region.role == Role::added;
  if (ink || added) {
    table.columns.push_back({say(ink ? "regions.kept" : "regions.residual"), Align::right, 1.3});
    table.columns.push_back({say("regions.ci"), Align::right, 1.5});
  }
  if (added) table.columns.push_back({say("regions.contrast"), Align::right, 1});
  for (const RegionChange& change : region.changes) {
    std::vector<Cell> row{
        cell(say("common.pair", fmt::arg("from", change.from), fmt::arg("to", change.to))),
        cell(context.measured(decimal(change.dE00, 2))), cell(interval(change.dE00_ci95, 2)),
        cell(strong(in_words(change))), cell(grey_scale(change))};
    if (ink || added) {
      const auto [value, ends] = kept_or_left(region, change);
      row.push_back(cell(context.measured(value)));
      row.push_back(cell(ends));
    }
    if (added) row.push_back(cell(context.measured(decimal(change.contrast_dE00, 1))));
    table.rows.push_back(std::move(row));
    for (const std::string& warning : change.warnings)
      table.rows.push_back({warning_cell(warning)});
  }
  return table;
}

void add_region(Document& document, const Context& context, const Region& region) {
  document.add(part_heading(name_of(region), link_of(region)));
  Block line = paragraph(soft(description(context, region)));
  line.with_next = true;
  document.add(line);
  Gallery gallery = crops_of(context, region);
  if (!gallery.pictures.empty()) document.add({gallery, true, false, false});
  if (!region.changes.empty()) document.add({changes_of(context, region), true, false, false});
  document.add({colours_of(context, region), false, false, false});
  if (region.warnings.empty()) return;
  List list;
  list.look = List::Look::warnings;
  for (const std::string& warning : region.warnings) list.items.push_back(warning_text(warning));
  document.add({list, false, false, false});
}

}  // namespace

std::string in_words(const RegionChange& change) {
  if (!change.detectable || !known(change.dE00)) return say("grades.unknown");
  if (!*change.detectable) return say("grades.not_detectable");
  const auto ends = change.dE00_ci95.value_or(std::array<double, 2>{*change.dE00, *change.dE00});
  const std::string &low = grade_word(ends[0]), &high = grade_word(ends[1]);
  return low == high ? low : say("grades.range", fmt::arg("low", low), fmt::arg("high", high));
}

void add_regions(Document& document, const Context& context) {
  if (context.results.regions.empty()) return;
  document.add(section(say("regions.title"), "places", say("common.observation")));
  document.add(intro(say("regions.intro")));
  add_overview(document, context);
  add_scale(document);
  for (const Region& region : context.results.regions) add_region(document, context, region);
}

}  // namespace inkwane::report
