#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "report/view.hpp"

namespace inkwane::report {
namespace {

const results::RegionStage* at_stage(const results::Region& region, const std::string& stage) {
  for (const auto& [id, colour] : region.stages)
    if (id == stage) return &colour;
  return nullptr;
}

const results::RegionChange* change_of(const results::Region& region, const std::string& from,
                                       const std::string& to) {
  for (const results::RegionChange& change : region.changes)
    if (change.from == from && change.to == to) return &change;
  return nullptr;
}

data swatch(const results::RegionStage* stage) {
  return stage == nullptr ? data(false) : data(css_colour(stage->lab));
}

void set_identity(data& into, const results::Region& region) {
  into.set("id", region.id);
  into.set("name", region.name.empty() ? region.id : region.name);
  into.set("ink", region.role == Role::ink);
  into.set("added", region.role == Role::added);
  into.set("paper", region.role == Role::paper);
  into.set("watch", region.role == Role::watch);
  set_side(into, region.side);
}

/// Where a change lies on the chart's axis, in per cent of its length; false where it is not known.
data chart_mark(const results::RegionChange& change) {
  constexpr double kAxisEnd = 10;  // ΔE00; page/chart.html draws its ticks and lines to this length
  if (!change.dE00) return false;
  const auto place = [](double dE00) { return 100 * std::clamp(dE00 / kAxisEnd, 0.0, 1.0); };
  const auto ends = change.dE00_ci95.value_or(std::array<double, 2>{*change.dE00, *change.dE00});
  data mark;
  mark.set("at", fmt::format("{:.2f}", place(*change.dE00)));
  mark.set("left", fmt::format("{:.2f}", place(ends[0])));
  mark.set("width", fmt::format("{:.2f}", place(ends[1]) - place(ends[0])));
  mark.set("beyond", *change.dE00 > kAxisEnd);
  mark.set("dE00", decimal(*change.dE00, 1));
  return mark;
}

data change_row(const results::Region& region, const results::RegionChange& change) {
  data row;
  set_identity(row, region);
  row.set("area", area(region.area_mm2));
  row.set("before", swatch(at_stage(region, change.from)));
  row.set("after", swatch(at_stage(region, change.to)));
  row.set("dE00", number(change.dE00, change.dE00_ci95, 2));
  row.set("mark", chart_mark(change));
  row.set("detectable", change.detectable == true);
  row.set("not_detectable", change.detectable == false);
  row.set("detectable_unknown", !change.detectable.has_value());
  row.set("kept", region.role == Role::ink ? share(change.strength_kept, change.strength_kept_ci95)
                                           : data(false));
  row.set("residual",
          region.role == Role::added ? share(change.residual, change.residual_ci95) : data(false));
  row.set("contrast", number(change.contrast_dE00, 1));
  std::vector<std::string> warnings = region.warnings;
  warnings.insert(warnings.end(), change.warnings.begin(), change.warnings.end());
  row.set("any_warnings", !warnings.empty());
  row.set("warnings", list_of(warnings));
  return row;
}

data lab_number(double value, double uncertainty) {
  data shown = number(value, 2);
  shown.set("u", decimal(uncertainty, 2));
  return shown;
}

data colour_rows(const results::Region& region) {
  data rows(data::type::list);
  for (const auto& [stage, colour] : region.stages) {
    data row;
    row.set("stage", stage);
    row.set("first", stage == region.stages.front().first);
    row.set("swatch", css_colour(colour.lab));
    row.set("L", lab_number(colour.lab.L, colour.u_lab.L));
    row.set("a", lab_number(colour.lab.a, colour.u_lab.a));
    row.set("b", lab_number(colour.lab.b, colour.u_lab.b));
    const auto* change = change_of(region, region.stages.front().first, stage);
    row.set("changed", change != nullptr);
    row.set("dL", number(change ? change->dL : std::nullopt, 2, true));
    row.set("dC", number(change ? change->dC : std::nullopt, 2, true));
    row.set("dH", number(change ? change->dH : std::nullopt, 2, true));
    rows.push_back(row);
  }
  return rows;
}

}  // namespace

data region_view(const results::Results& results) {
  data pairs(data::type::list);
  for (const Pair& pair : compared_pairs(results)) {
    data rows(data::type::list);
    for (const results::Region& region : results.regions)
      if (const auto* change = change_of(region, pair.from, pair.to))
        rows.push_back(change_row(region, *change));
    add_pair(pairs, pair, rows);
  }
  data colours(data::type::list);
  for (const results::Region& region : results.regions) {
    data entry;
    set_identity(entry, region);
    entry.set("area", area(region.area_mm2));
    entry.set("stages", colour_rows(region));
    entry.set("count", std::to_string(region.stages.size()));
    entry.set("any_warnings", region.changes.empty() && !region.warnings.empty());
    entry.set("warnings", list_of(region.warnings));
    colours.push_back(entry);
  }
  data view;
  view.set("any", !results.regions.empty());
  view.set("pairs", pairs);
  view.set("colours", colours);
  return view;
}

}  // namespace inkwane::report
