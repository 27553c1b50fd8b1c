#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <set>
#include <string_view>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <inkwane/error.hpp>
#include <inkwane/treatment.hpp>

#include "treatment/blotter.hpp"
#include "treatment/places.hpp"
#include "treatment/polygon.hpp"
#include "treatment/record.hpp"
#include "treatment/save.hpp"
#include "treatment/step.hpp"
#include "treatment/toml_table.hpp"

namespace inkwane {
namespace {

using treatment::Table;

// Ranges beyond which a value is a slip, not a choice: a sheet of 5 m, an aperture wider than any
// printed detail, a grid finer than any scanner.
constexpr double kLongestSheetMm = 5000;
constexpr double kLeastApertureMm = 0.05, kWidestApertureMm = 10;
constexpr double kFinestGridMm = 0.02, kCoarsestGridMm = 5;

constexpr std::array<std::string_view, 4> kStageKinds{"before", "during", "after", "follow-up"};

Corners read_corners(const Table& table, std::string_view key, const toml::node& node) {
  const toml::array& points =
      treatment::read_array(table, key, node, "[[x, y], [x, y], [x, y], [x, y]]");
  if (points.size() != 4) table.fail(key, "must have four points.");
  Corners quad;
  for (std::size_t i = 0; i < 4; ++i) quad[i] = treatment::read_point(table, key, points[i]);
  return quad;
}

template <typename Enum>
Enum read_choice(const Table& table, std::string_view key, const std::string& value,
                 std::initializer_list<Enum> choices) {
  std::vector<std::string> names;
  for (const Enum choice : choices) {
    if (to_string(choice) == value) return choice;
    names.push_back(fmt::format("\"{}\"", to_string(choice)));
  }
  table.fail(key, fmt::format("\"{}\" is not known; it must be one of {}.", value,
                              fmt::join(names, ", ")));
}

Object read_object(const Table& table) {
  table.allow_only({"title", "identifier", "client", "description", "maker", "owner", "marks",
                    "width_mm", "height_mm", "turn"});
  Object object;
  object.title = table.required_text("title");
  object.identifier = table.text("identifier").value_or("");
  object.client = table.text("client").value_or("");
  object.description = table.text("description").value_or("");
  object.maker = table.text("maker").value_or("");
  object.owner = table.text("owner").value_or("");
  object.marks = table.text("marks").value_or("");
  object.width_mm = table.number("width_mm", 1, kLongestSheetMm);
  object.height_mm = table.number("height_mm", 1, kLongestSheetMm);
  if (const auto turn = table.text("turn")) {
    object.turn = read_choice(table, "turn", *turn, {Turn::side, Turn::top});
  }
  return object;
}

std::pair<std::string, Side> read_scan_name(const Table& corners, std::string_view key) {
  for (const Side side : kSides) {
    const std::string ending = "." + to_string(side);
    if (key.size() > ending.size() && key.ends_with(ending)) {
      return {std::string(key.substr(0, key.size() - ending.size())), side};
    }
  }
  corners.fail(key, R"(must be named by stage and side, such as corners."BT.recto".)");
}

TargetCard read_target(const Table& table, const std::filesystem::path& folder) {
  table.allow_only({"reference", "rows", "columns", "corners"});
  TargetCard card;
  card.reference = folder / table.required_text("reference");
  card.rows = table.integer("rows", 1, kMostTargetRows).value_or(card.rows);
  card.columns = table.integer("columns", 1, kMostTargetRows).value_or(card.columns);
  if (const auto corners = table.table("corners")) {
    for (const auto& [key, node] : corners->raw()) {
      card.corners[read_scan_name(*corners, key.str())] = read_corners(*corners, key.str(), node);
    }
  }
  return card;
}

Measure read_measure(const Table& table, const std::filesystem::path& folder) {
  table.allow_only({"aperture_mm", "grid_mm", "repeat", "scanner"});
  Measure measure;
  constexpr std::size_t kPair = 2;
  for (const std::string& scan : table.texts("repeat", kPair))
    measure.repeat.push_back(folder / scan);
  measure.aperture_mm = table.number("aperture_mm", kLeastApertureMm, kWidestApertureMm)
                            .value_or(measure.aperture_mm);
  measure.grid_mm =
      table.number("grid_mm", kFinestGridMm, kCoarsestGridMm).value_or(measure.grid_mm);
  if (measure.grid_mm > measure.aperture_mm) {
    table.fail("grid_mm",
               fmt::format("{} is wider than the aperture of {} mm, so that parts of the "
                           "sheet would not be measured; make it at most the aperture.",
                           measure.grid_mm, measure.aperture_mm));
  }
  if (table.find("scanner") != nullptr) measure.scanner = folder / table.required_text("scanner");
  return measure;
}

void read_outlines(const Table& table, Stage& stage) {
  table.allow_only({"recto", "verso"});
  for (const Side side : kSides) {
    const std::string key = to_string(side);
    const toml::node* node = table.find(key);
    if (node == nullptr) continue;
    if (!stage.scans.contains(side)) {
      table.fail(key, fmt::format("stage \"{}\" has no scan of the {}.", stage.id, key));
    }
    const Corners corners = read_corners(table, key, *node);
    const std::vector<Point> polygon(corners.begin(), corners.end());
    if (treatment::crossing_edges(polygon) || !(treatment::polygon_area(polygon) > 0)) {
      table.fail(key, "must go round the sheet from its top left corner clockwise.");
    }
    stage.outlines[side] = corners;
  }
}

Stage read_stage(const Table& table, const std::filesystem::path& folder) {
  table.allow_only({"id", "kind", "date", "condition", "dried", "recto", "verso", "note", "outline",
                    "control_points", "step"});
  Stage stage;
  stage.id = table.required_text("id");
  stage.date = table.date("date").value_or("");
  stage.note = table.text("note").value_or("");
  stage.kind = table.text("kind").value_or("");
  if (!stage.kind.empty() &&
      std::find(kStageKinds.begin(), kStageKinds.end(), stage.kind) == kStageKinds.end()) {
    table.fail("kind", fmt::format("\"{}\" is not known; it must be one of {}.", stage.kind,
                                   fmt::join(kStageKinds, ", ")));
  }
  if (const auto condition = table.text("condition")) {
    stage.condition = read_choice(table, "condition", *condition,
                                  {Condition::dry, Condition::damp, Condition::wet});
  }
  stage.dried = table.date("dried").value_or("");
  for (const Side side : kSides) {
    for (const std::string& scan : table.texts(to_string(side), 1)) {
      if (!stage.scans.contains(side)) {
        stage.scans[side] = folder / scan;
      } else {
        stage.repeats[side].push_back(folder / scan);
      }
    }
  }
  if (stage.scans.empty()) {
    table.fail_at(
        table.line(),
        fmt::format("[[stage]] \"{}\" has no scan; give recto, verso or both.", stage.id));
  }
  if (const auto outline = table.table("outline")) read_outlines(*outline, stage);
  if (const auto control = table.table("control_points")) {
    control->allow_only({"recto", "verso"});
    for (const Side side : kSides) {
      const std::string key = to_string(side);
      const toml::node* node = control->find(key);
      if (node == nullptr) continue;
      const std::string form = "[[[x, y], [x, y]], …]";
      for (const toml::node& item : treatment::read_array(*control, key, *node, form)) {
        const toml::array& pair = treatment::read_array(*control, key, item, form);
        if (pair.size() != 2) control->fail(key, fmt::format("must be of the form {}.", form));
        stage.control_points[side].emplace_back(treatment::read_point(*control, key, pair[0]),
                                                treatment::read_point(*control, key, pair[1]));
      }
    }
  }
  for (const Table& step : table.tables("step", "[[stage.step]]")) {
    stage.steps.push_back(treatment::read_step(step));
  }
  return stage;
}

Region read_region(const Table& table) {
  table.allow_only({"id", "name", "side", "role", "under", "untouched", "polygon"});
  Region region;
  region.id = table.required_text("id");
  region.name = table.text("name").value_or(region.id);
  region.line = table.line();
  region.side = read_choice(table, "side", table.required_text("side"), {Side::recto, Side::verso});
  region.role = read_choice(table, "role", table.required_text("role"),
                            {Role::ink, Role::added, Role::paper, Role::watch});
  if (const auto under = table.text("under")) {
    if (region.role != Role::added) {
      table.fail("under", "belongs only to a region of role \"added\"; remove it.");
    }
    region.under = *under;
  }
  region.untouched = table.flag("untouched").value_or(false);
  region.polygon = treatment::read_polygon(table, "polygon", region.id);
  return region;
}

void check_stages(const Treatment& treatment, const Table& root) {
  if (treatment.stages.empty()) {
    root.fail_at(1, "there is no [[stage]]; add one for each time the sheet was scanned.");
  }
  std::set<std::string> ids;
  const auto tables = root.tables("stage", "[[stage]]");
  for (std::size_t i = 0; i < treatment.stages.size(); ++i) {
    if (!ids.insert(treatment.stages[i].id).second) {
      tables[i].fail("id", fmt::format("\"{}\" stands twice; each stage needs its own.",
                                       treatment.stages[i].id));
    }
  }
}

bool has_side(const Treatment& treatment, Side side) {
  return std::any_of(treatment.stages.begin(), treatment.stages.end(),
                     [side](const Stage& stage) { return stage.scans.contains(side); });
}

void check_regions(const Treatment& treatment, const Table& root) {
  const auto tables = root.tables("region", "[[region]]");
  std::set<std::string> ids;
  for (std::size_t i = 0; i < treatment.regions.size(); ++i) {
    const Region& region = treatment.regions[i];
    if (!ids.insert(region.id).second || region.id == "paper") {
      tables[i].fail(
          "id", region.id == "paper"
                    ? "\"paper\" is kept for what lies under a region; name it otherwise."
                    : fmt::format("\"{}\" stands twice; each region needs its own.", region.id));
    }
    if (!has_side(treatment, region.side)) {
      tables[i].fail("side", fmt::format("no stage has a scan of the {}.", to_string(region.side)));
    }
    if (region.role != Role::added || region.under == "paper") continue;
    const auto under =
        std::find_if(treatment.regions.begin(), treatment.regions.end(),
                     [&region](const Region& other) { return other.id == region.under; });
    if (under == treatment.regions.end()) {
      tables[i].fail("under", fmt::format("\"{}\" names no region; give \"paper\" or the id of an "
                                          "ink region.",
                                          region.under));
    }
    if (under->role != Role::ink || under->side != region.side) {
      tables[i].fail("under",
                     fmt::format("\"{}\" is not an ink region of the {}; give \"paper\" or "
                                 "the id of one.",
                                 region.under, to_string(region.side)));
    }
  }
}

void check_spot_tests(const Treatment& treatment, const Table& root) {
  const auto tables = root.tables("spot_test", "[[spot_test]]");
  for (std::size_t i = 0; i < treatment.spot_tests.size(); ++i) {
    const std::string& id = treatment.spot_tests[i].region;
    const bool known = std::any_of(treatment.regions.begin(), treatment.regions.end(),
                                   [&id](const Region& region) { return region.id == id; });
    if (!id.empty() && !known) {
      tables[i].fail("region", fmt::format("\"{}\" names no region; give the id of one, or say in "
                                           "words where, as place.",
                                           id));
    }
  }
}

void check_corners(const Treatment& treatment, const Table& root) {
  if (!treatment.target) return;
  for (const auto& [name, quad] : treatment.target->corners) {
    const auto& [id, side] = name;
    const bool known = std::any_of(
        treatment.stages.begin(), treatment.stages.end(),
        [&id = id, side = side](const Stage& s) { return s.id == id && s.scans.contains(side); });
    if (!known) {
      root.table("target")->fail(
          "corners",
          fmt::format("\"{}.{}\" is not a scan of this treatment.", id, to_string(side)));
    }
  }
}

}  // namespace

Treatment read_treatment(const std::filesystem::path& file) {
  return parse_treatment(treatment::read_text(file), file);
}

Treatment parse_treatment(const std::string& text, const std::filesystem::path& file) {
  toml::table parsed;
  try {
    parsed = toml::parse(text, file.string());
  } catch (const toml::parse_error& error) {
    throw Error(ExitCode::usage, fmt::format("{}, line {}: {}.", file.string(),
                                             error.source().begin.line, error.description()));
  }
  const Table root(parsed, "the treatment file", file);
  root.allow_only({"inkwane", "object", "record", "target", "measure", "stage", "region",
                   "spot_test", "blotter"});
  if (!root.integer("inkwane", 1, std::numeric_limits<int>::max())) {
    root.fail_at(1, "the line \"inkwane = 1\" is missing; put it at the top.");
  }
  if (*root.integer("inkwane", 1, std::numeric_limits<int>::max()) != 1) {
    root.fail("inkwane", "this program reads format 1 only.");
  }

  Treatment treatment;
  treatment.file = file;
  const std::filesystem::path folder = file.parent_path();
  const auto object = root.table("object");
  if (!object) root.fail_at(1, "there is no [object] table; add it with a title.");
  treatment.object = read_object(*object);
  if (const auto target = root.table("target")) treatment.target = read_target(*target, folder);
  if (const auto record = root.table("record")) treatment.record = treatment::read_record(*record);
  if (const auto measure = root.table("measure"))
    treatment.measure = read_measure(*measure, folder);
  for (const Table& stage : root.tables("stage", "[[stage]]")) {
    treatment.stages.push_back(read_stage(stage, folder));
  }
  for (const Table& region : root.tables("region", "[[region]]")) {
    treatment.regions.push_back(read_region(region));
  }
  for (const Table& test : root.tables("spot_test", "[[spot_test]]")) {
    treatment.spot_tests.push_back(treatment::read_spot_test(test));
  }
  for (const Table& blotter : root.tables("blotter", "[[blotter]]")) {
    treatment.blotters.push_back(treatment::read_blotter(blotter, folder));
  }
  check_stages(treatment, root);
  check_corners(treatment, root);
  check_regions(treatment, root);
  check_spot_tests(treatment, root);
  treatment::check_blotters(treatment, root);
  return treatment;
}

}  // namespace inkwane
