#include "change/change.hpp"

#include <limits>

#include <fmt/core.h>

#include <inkwane/error.hpp>

#include "change/bleed.hpp"
#include "change/cell_maps.hpp"
#include "change/readout.hpp"
#include "change/regions.hpp"

namespace inkwane::change {
namespace {

void add_map(SideOutput& output, const std::string& kind, const results::SideChange& change,
             cv::Mat value, const std::string& unit) {
  if (!value.empty()) output.maps.push_back({kind, change.from, change.to, std::move(value), unit});
}

/// Why bleed-through cannot be told from other gains; empty: it can.
std::string unpaired_reason(const OtherSide* other) {
  if (other == nullptr || other->input == nullptr || other->input->layers.empty()) {
    return "There is no scan of the recto, so every local gain of colour on the verso counts as "
           "bleed-through.";
  }
  if (other->to_other.empty()) {
    return "Recto and verso could not be paired, so every local gain of colour on the verso counts "
           "as bleed-through, whatever its source.";
  }
  return {};
}

void assess_cells(const SideContext& context, const Behind* behind, const std::string& doubt,
                  std::pair<int, int> pair, SideOutput& output) {
  const SideInput& side = *context.side;
  const auto [from, to] = pair;
  results::SideChange change;
  change.from = side.layers[static_cast<std::size_t>(from)].stage;
  change.to = side.layers[static_cast<std::size_t>(to)].stage;
  const Drift drift = from == 0 ? context.drift[static_cast<std::size_t>(to)]
                                : measure_drift(side, context.paper, from, to);

  CellMaps maps = map_cells(context, drift, laws_of(output.inks), from, to);
  if (from == 0 && to + 1 == static_cast<int>(side.layers.size()))
    output.readout = read_out(context, drift, from, to);
  change.sheet_mm2 = maps.sheet_mm2;
  change.lost_ink = maps.lost;
  change.gained_colour = maps.gained;
  change.gained_above = areas_above(maps.gained_colour, side.geometry.cell_mm2(), maps.sheet_mm2);
  add_map(output, "difference", change, std::move(maps.difference), "ΔE00");
  add_map(output, "lost-ink", change, std::move(maps.lost_ink), "share");
  add_map(output, "gained-colour", change, std::move(maps.gained_colour), "ΔE00");
  add_map(output, "residual-added", change, std::move(maps.residual_added), "share");
  if (side.side == Side::verso) {
    BleedMap bleed = map_bleed(context, drift, behind, from, to, maps.sheet_mm2);
    change.bleed_through = bleed.found;
    add_map(output, "bleed-through", change, std::move(bleed.value), "ΔE00");
    if (!doubt.empty()) change.warnings.push_back(doubt);
    if (behind != nullptr && !behind->same_stages) {
      change.warnings.emplace_back(
          "The recto was not scanned at every stage of the verso; where it was not, its print is "
          "taken as at its first, so show-through may be off.");
    }
  }
  output.side.changes.push_back(std::move(change));
}

SideOutput assess(const SideInput& side, const OtherSide* other) {
  SideOutput output;
  output.context = std::make_shared<const SideContext>(make_context(side));
  const SideContext& context = *output.context;
  const auto pairs = stage_pairs(static_cast<int>(side.layers.size()));
  if (other != nullptr) output.inks = other->inks;
  AssessedRegions assessed = assess_regions(context, pairs, output.inks);
  output.regions = std::move(assessed.regions);
  output.series = std::move(assessed.series);
  if (!context.paper.found) {
    output.doubtful = true;
    output.warnings.push_back(
        fmt::format("Too little of the {} was measured for maps of change.", to_string(side.side)));
    return output;
  }
  const std::string doubt = unpaired_reason(other);
  std::optional<Behind> behind;
  if (side.side == Side::verso && !pairs.empty() && doubt.empty())
    behind = look_behind(context, *other);
  for (const auto& pair : pairs)
    assess_cells(context, behind ? &*behind : nullptr, doubt, pair, output);
  return output;
}

}  // namespace

std::vector<std::pair<int, int>> stage_pairs(int stages) {
  std::vector<std::pair<int, int>> pairs;
  for (int to = 1; to < stages; ++to) {
    pairs.emplace_back(0, to);
    if (to > 1) pairs.emplace_back(to - 1, to);
  }
  return pairs;
}

SideOutput assess_side(const SideInput& side, const OtherSide* other) {
  if (side.layers.empty()) return {};
  try {
    return assess(side, other);
  } catch (const cv::Exception& e) {
    if (e.code == cv::Error::StsNoMem) {
      throw Error(
          ExitCode::output,
          fmt::format(
              "Memory ran out while the {} was compared: use a coarser grid_mm or fewer stages.",
              to_string(side.side)));
    }
    throw;
  }
}

}  // namespace inkwane::change
