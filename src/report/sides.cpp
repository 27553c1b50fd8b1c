#include "report/view.hpp"

namespace inkwane::report {
namespace {

data colour_area(const results::ColourArea& found) {
  data view;
  view.set("area", area(found.area_mm2));
  view.set("share", percent(found.share, 1));
  view.set("mean", number(found.mean_dE00, 1));
  return view;
}

data sources_of(const results::BleedThrough& bleed) {
  data sources(data::type::list);
  for (const results::Source& source : bleed.sources) {
    data entry;
    entry.set("swatch", css_colour(source.lab));
    entry.set("share", percent(source.share));
    sources.push_back(entry);
  }
  return sources;
}

/// What no source explains (docs/formats.md, "sources").
double unexplained(const results::BleedThrough& bleed) {
  double rest = 1;
  for (const results::Source& source : bleed.sources) rest -= source.share;
  return rest;
}

data side_row(Side side, const results::SideChange& change) {
  data row;
  set_side(row, side);
  row.set("sheet", area(change.sheet_mm2));
  row.set("lost_area", area(change.lost_ink.area_mm2));
  row.set("lost_share", percent(change.lost_ink.share, 1));
  row.set("kept", share(change.lost_ink.mean_kept));
  row.set("gained", colour_area(change.gained_colour));
  data bleed(false);
  if (change.bleed_through) {
    bleed = colour_area(change.bleed_through->area);
    bleed.set("any_sources", !change.bleed_through->sources.empty());
    bleed.set("sources", sources_of(*change.bleed_through));
    bleed.set("unexplained", percent(unexplained(*change.bleed_through)));
  }
  row.set("bleed", bleed);
  row.set("any_warnings", !change.warnings.empty());
  row.set("warnings", list_of(change.warnings));
  return row;
}

}  // namespace

data side_view(const results::Results& results) {
  data pairs(data::type::list);
  for (const Pair& pair : compared_pairs(results)) {
    data rows(data::type::list);
    for (const auto& [side, result] : results.sides)
      for (const results::SideChange& change : result.changes)
        if (change.from == pair.from && change.to == pair.to)
          rows.push_back(side_row(side, change));
    add_pair(pairs, pair, rows);
  }
  return pairs;
}

}  // namespace inkwane::report
