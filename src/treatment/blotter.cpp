#include "treatment/blotter.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "treatment/places.hpp"

namespace inkwane::treatment {

BlotterScan read_blotter(const Table& table, const std::filesystem::path& folder) {
  table.allow_only({"id", "stage", "scan", "has_target", "polygon", "blank", "note"});
  BlotterScan blotter;
  blotter.id = table.required_text("id");
  blotter.stage = table.required_text("stage");
  blotter.scan = folder / table.required_text("scan");
  blotter.note = table.text("note").value_or("");
  if (const toml::node* node = table.find("has_target")) {
    if (!node->is_boolean()) table.fail("has_target", "must be true or false.");
    blotter.has_target = *node->value<bool>();
  }
  if (table.find("polygon") != nullptr)
    blotter.polygon = read_polygon(table, "polygon", blotter.id);
  blotter.blank = read_polygon(table, "blank", blotter.id);
  return blotter;
}

void check_blotters(const Treatment& treatment, const Table& root) {
  const auto tables = root.tables("blotter", "[[blotter]]");
  std::set<std::string> ids;
  for (std::size_t i = 0; i < treatment.blotters.size(); ++i) {
    const BlotterScan& blotter = treatment.blotters[i];
    if (!ids.insert(blotter.id).second) {
      tables[i].fail("id",
                     fmt::format("\"{}\" stands twice; each blotter needs its own.", blotter.id));
    }
    const bool known = std::any_of(treatment.stages.begin(), treatment.stages.end(),
                                   [&](const Stage& stage) { return stage.id == blotter.stage; });
    if (!known) {
      tables[i].fail("stage", fmt::format("\"{}\" names no stage; give the id of the stage that "
                                          "followed the blotting.",
                                          blotter.stage));
    }
  }
}

}  // namespace inkwane::treatment
