// The whole sheet: sums over cells, and the maps.
#include <algorithm>
#include <tuple>

#include "report/content/content.hpp"
#include "report/figures.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

using Align = Column::Align;

struct Pair {
  std::string from, to;
  bool operator==(const Pair&) const = default;
};

/// The pairs of stages that were compared; the whole treatment first, then in the record's order.
std::vector<Pair> compared_pairs(const results::Results& results) {
  std::vector<Pair> pairs;
  const auto add = [&](const std::string& from, const std::string& to) {
    const Pair pair{from, to};
    if (std::find(pairs.begin(), pairs.end(), pair) == pairs.end()) pairs.push_back(pair);
  };
  for (const auto& [side, result] : results.sides)
    for (const results::SideChange& change : result.changes) add(change.from, change.to);
  for (const results::Map& map : results.maps) add(map.from, map.to);
  const auto place = [&](const std::string& stage) {
    return std::find_if(results.stages.begin(), results.stages.end(),
                        [&](const Stage& s) { return s.id == stage; }) -
           results.stages.begin();
  };
  std::stable_sort(pairs.begin(), pairs.end(), [&](const Pair& one, const Pair& two) {
    return std::tuple(place(one.from) - place(one.to), place(one.from)) <
           std::tuple(place(two.from) - place(two.to), place(two.from));
  });
  return pairs;
}

void add_row(Table& table, const Context& context, const char* what,
             const results::ColourArea& found) {
  table.rows.push_back(
      {cell(say(what)), cell(context.measured(area(found.area_mm2))),
       cell(context.measured(percent(found.share, 1))),
       cell(known(found.mean_dE00)
                ? context.measured(
                      say("sheet.mean_dE00", fmt::arg("value", decimal(found.mean_dE00, 1))))
                : plain(say("common.none")))});
}

/// The same area at the other levels.
void add_levels(Table& table, const Context& context,
                const std::vector<results::AreaAbove>& levels) {
  constexpr double kCounted = 2;  // the level of the row above
  for (const results::AreaAbove& level : levels) {
    if (level.dE00 == kCounted) continue;
    table.rows.push_back(
        {cell(soft(say("sheet.row_above", fmt::arg("dE00", fmt::format("{:g}", level.dE00))))),
         cell(context.measured(area(level.area_mm2))),
         cell(context.measured(percent(level.share, 1))), cell("")});
  }
}

void add_side(Document& document, const Context& context, Side side,
              const results::SideChange& change) {
  Table table;
  table.label = fmt::format(
      "{}, {} ({})", say(side == Side::recto ? "common.recto_long" : "common.verso_long"),
      say("common.pair", fmt::arg("from", change.from), fmt::arg("to", change.to)),
      say("common.mm2", fmt::arg("area", area(change.sheet_mm2))));
  table.columns = {{say("sheet.what"), Align::left, 3},
                   {say("sheet.area"), Align::right, 1},
                   {say("sheet.share"), Align::right, 1},
                   {say("sheet.mean"), Align::right, 1.2}};
  const results::LostInk& lost = change.lost_ink;
  table.rows.push_back({cell(say("sheet.row_lost")), cell(context.measured(area(lost.area_mm2))),
                        cell(context.measured(percent(lost.share, 1))),
                        cell(known(lost.mean_kept)
                                 ? context.measured(say("sheet.mean_kept",
                                                        fmt::arg("value", percent(lost.mean_kept))))
                                 : plain(say("common.none")))});
  add_row(table, context, "sheet.row_gained", change.gained_colour);
  add_levels(table, context, change.gained_above);
  if (change.bleed_through) {
    add_row(table, context, "sheet.row_through", change.bleed_through->area);
    add_levels(table, context, change.bleed_through->above);
  }
  document.add(part_heading(table.label));
  document.add({table, false, false, false});
  if (change.warnings.empty()) return;
  List list;
  list.look = List::Look::warnings;
  for (const std::string& warning : change.warnings) list.items.push_back(warning_text(warning));
  document.add({list, false, false, false});
}

Picture picture_of(const Context& context, const results::Map& map) {
  Picture picture;
  picture.file = map.plain;
  for (const results::Image& image : context.results.images) {
    // A map is cut as the side's pictures are; only its pixels may be coarser.
    if (image.side == map.side && image.stage == map.from) picture.frame = image.frame;
  }
  picture.alt =
      say("maps.figure", fmt::arg("title", say("maps." + map.kind)),
          fmt::arg("side", in_words(map.side)), fmt::arg("from", map.from), fmt::arg("to", map.to));
  return picture;
}

/// All maps of one side and pair in a row, small: their scales stand beside the large ones.
void add_step(Document& document, const Context& context, const Pair& pair, Side side) {
  Gallery gallery;
  for (const results::Map& map : context.results.maps) {
    if (map.side != side || map.from != pair.from || map.to != pair.to || map.plain.empty())
      continue;
    Picture picture = picture_of(context, map);
    picture.caption = plain(say("maps." + map.kind));
    gallery.pictures.push_back(std::move(picture));
  }
  if (gallery.pictures.empty()) return;
  gallery.most_high_mm = 62;
  gallery.caption =
      strong(say(side == Side::recto ? "common.recto_long" : "common.verso_long")) +
      plain(", " + say("common.pair", fmt::arg("from", pair.from), fmt::arg("to", pair.to)));
  document.add({gallery, false, false, false});
}

}  // namespace

void add_sheet(Document& document, const Context& context) {
  const auto pairs = compared_pairs(context.results);
  if (context.results.sides.empty() || pairs.empty()) return;
  document.add(section(say("sheet.title"), "sheet", say("common.observation")));
  document.add(intro(say("sheet.intro")));
  for (const Pair& pair : pairs) {
    for (const auto& [side, result] : context.results.sides) {
      for (const results::SideChange& change : result.changes)
        if (change.from == pair.from && change.to == pair.to)
          add_side(document, context, side, change);
    }
  }
}

void add_maps(Document& document, const Context& context) {
  std::vector<Pair> pairs = compared_pairs(context.results);
  if (pairs.empty() || context.results.maps.empty()) return;
  const Pair whole = pairs.front();
  bool any = false;
  for (const results::Map& map : context.results.maps) {
    if (map.from != whole.from || map.to != whole.to || map.plain.empty()) continue;
    if (!any) {
      document.add(section(say("maps.title"), "maps", say("common.observation")));
      document.add(intro(say("maps.intro")));
      any = true;
    }
    MapFigure figure;
    figure.kind = map.kind;
    figure.picture = picture_of(context, map);
    figure.title = figure.picture.alt;
    figure.caption = context.measured(say("maps." + map.kind + "_says"));
    if (!context.options.client)
      figure.caption = figure.caption + code(" " + say("maps.numbers", fmt::arg("file", map.tiff)));
    document.add({figure, false, false, false});
  }
  pairs.erase(pairs.begin());
  if (!any || pairs.empty()) return;
  document.add(part_heading(say("maps.steps"), "maps-steps"));
  document.add(intro(say("maps.steps_intro")));
  for (const Pair& pair : pairs)
    for (const Side side : kSides) add_step(document, context, pair, side);
}

}  // namespace inkwane::report
