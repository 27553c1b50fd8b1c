#include "report/view.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace inkwane::report {
namespace {

data object_view(const results::Results& results) {
  const Object& object = results.object;
  data view;
  view.set("title", object.title);
  view.set("identifier", text_or_none(object.identifier));
  view.set("client", text_or_none(object.client));
  view.set("description", text_or_none(object.description));
  const bool sized = object.width_mm && object.height_mm;
  view.set("size", sized ? data(fmt::format("{:g} × {:g} mm", *object.width_mm, *object.height_mm))
                         : data(false));
  return view;
}

data stage_view(const results::Results& results) {
  data stages(data::type::list);
  for (const Stage& stage : results.stages) {
    data steps(data::type::list);
    for (const Step& step : stage.steps) {
      data details(data::type::list);
      for (const Detail& each : step.details) {
        const auto [label, value] = in_words(each);
        data detail;
        detail.set("key", label);
        detail.set("value", value);
        details.push_back(detail);
      }
      data entry;
      entry.set("kind", step.kind);
      entry.set("details", details);
      steps.push_back(entry);
    }
    data entry;
    entry.set("id", stage.id);
    entry.set("date", text_or_none(date(stage.date)));
    entry.set("note", text_or_none(stage.note));
    entry.set("any_steps", !stage.steps.empty());
    entry.set("steps", steps);
    stages.push_back(entry);
  }
  return stages;
}

/// The same sentence in several places is told once, with the places.
class WarningList {
 public:
  void add(const std::vector<std::string>& sentences, const data& place) {
    for (const std::string& sentence : sentences) {
      auto found = std::find_if(entries_.begin(), entries_.end(),
                                [&](const Entry& entry) { return entry.sentence == sentence; });
      if (found == entries_.end()) found = entries_.insert(found, {sentence, {}});
      found->places.push_back(place);
    }
  }

  [[nodiscard]] data view() const {
    data list(data::type::list);
    for (const Entry& entry : entries_) {
      data places(data::type::list);
      for (const data& place : entry.places) places.push_back(place);
      data shown;
      shown.set("sentence", entry.sentence);
      shown.set("places", places);
      list.push_back(shown);
    }
    return list;
  }

 private:
  struct Entry {
    std::string sentence;
    std::vector<data> places;
  };
  std::vector<Entry> entries_;
};

/// Where a warning stands: a flag that says what kind of place, and its names.
data place_of(const char* kind, const std::string& name, const std::string& from = {},
              const std::string& to = {}) {
  data place;
  for (const char* other : {"everywhere", "scan", "region", "one_side"})
    place.set(other, std::string(other) == kind);
  place.set("name", name);
  place.set("from", text_or_none(from));
  place.set("to", text_or_none(to));
  return place;
}

data warning_view(const results::Results& results) {
  WarningList list;
  list.add(results.warnings, place_of("everywhere", ""));
  for (const results::Scan& scan : results.scans) {
    data place = place_of("scan", scan.stage);
    set_side(place, scan.side);
    list.add(scan.warnings, place);
  }
  for (const results::Region& region : results.regions) {
    const std::string name = region.name.empty() ? region.id : region.name;
    list.add(region.warnings, place_of("region", name));
    for (const results::RegionChange& change : region.changes)
      list.add(change.warnings, place_of("region", name, change.from, change.to));
  }
  for (const auto& [side, result] : results.sides)
    for (const results::SideChange& change : result.changes) {
      data place = place_of("one_side", "", change.from, change.to);
      set_side(place, side);
      list.add(change.warnings, place);
    }
  return list.view();
}

/// How the two sides lie on each other; false where only one was scanned.
data sheet_view(const results::Results& results) {
  const auto scanned = [&](Side side) {
    return std::any_of(results.scans.begin(), results.scans.end(),
                       [side](const results::Scan& scan) { return scan.side == side; });
  };
  if (!scanned(Side::recto) || !scanned(Side::verso)) return false;
  const results::Sheet& sheet = results.sheet;
  data view;
  view.set("pairing", number(sheet.pairing_mm, 2));
  view.set("like_a_page", sheet.turn == Turn::side);
  view.set("turn_unknown", !sheet.turn_seen.has_value());
  view.set("turn_differs", sheet.turn_seen.has_value() && *sheet.turn_seen != sheet.turn);
  return view;
}

}  // namespace

void add_pair(data& pairs, const Pair& pair, const data& rows) {
  if (rows.is_empty_list()) return;
  data entry;
  entry.set("from", pair.from);
  entry.set("to", pair.to);
  entry.set("whole", pair.whole);
  entry.set("rows", rows);
  pairs.push_back(entry);
}

std::vector<Pair> compared_pairs(const results::Results& results) {
  std::vector<Pair> pairs;
  const auto add = [&](const std::string& from, const std::string& to) {
    const bool whole = !results.stages.empty() && from == results.stages.front().id &&
                       to == results.stages.back().id;
    const Pair pair{from, to, whole};
    if (std::find(pairs.begin(), pairs.end(), pair) == pairs.end()) pairs.push_back(pair);
  };
  for (const auto& [side, result] : results.sides)
    for (const results::SideChange& change : result.changes) add(change.from, change.to);
  for (const results::Region& region : results.regions)
    for (const results::RegionChange& change : region.changes) add(change.from, change.to);
  for (const results::Map& map : results.maps) add(map.from, map.to);
  const auto place = [&](const std::string& stage) {
    return std::find_if(results.stages.begin(), results.stages.end(),
                        [&](const Stage& s) { return s.id == stage; }) -
           results.stages.begin();
  };
  std::stable_sort(pairs.begin(), pairs.end(), [&](const Pair& one, const Pair& two) {
    return std::tuple(!one.whole, place(one.from), place(one.to)) <
           std::tuple(!two.whole, place(two.from), place(two.to));
  });
  return pairs;
}

void set_side(data& into, Side side) {
  into.set("recto", side == Side::recto);
  into.set("verso", side == Side::verso);
}

data page_view(const results::Results& results, const std::filesystem::path& folder) {
  Pictures pictures(folder);
  data view;
  view.set("object", object_view(results));
  view.set("stages", stage_view(results));
  view.set("uncalibrated", !results.calibrated);
  view.set("doubtful", results.doubtful);
  data warnings = warning_view(results);
  view.set("any_warnings", warnings.is_non_empty_list());
  view.set("all_warnings", warnings);
  view.set("one_stage", results.stages.size() < 2);
  data sides = picture_view(results, pictures);
  view.set("any_pictures", sides.is_non_empty_list());
  view.set("pictured_sides", sides);
  view.set("regions", region_view(results));
  data measured = side_view(results);
  view.set("any_sides", measured.is_non_empty_list());
  view.set("side_pairs", measured);
  data maps = map_view(results, pictures);
  view.set("any_maps", maps.is_non_empty_list());
  view.set("map_pairs", maps);
  view.set("scans", scan_view(results));
  view.set("sheet", sheet_view(results));
  view.set("version", results.version);
  view.set("aperture", fmt::format("{:g}", results.aperture_mm));
  view.set("grid", fmt::format("{:g}", results.grid_mm));
  return view;
}

}  // namespace inkwane::report
