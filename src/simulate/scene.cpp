#include "simulate/scene.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include <inkwane/error.hpp>

namespace inkwane::simulate {
namespace {

[[noreturn]] void refuse(const std::string& what) {
  throw Error(ExitCode::usage, "The scene cannot be simulated: " + what);
}

void check_share(double value, const std::string& what) {
  if (!(value >= 0 && value <= 1)) refuse(fmt::format("{} is {}, not 0 to 1.", what, value));
}

void check_area(const Scene& scene, const Area& area, const std::string& side) {
  if (!area.ink.empty() && !scene.inks.contains(area.ink)) {
    refuse(fmt::format("the {} uses the ink \"{}\", which it does not define.", side, area.ink));
  }
  if (area.outline_mm.empty()) refuse(fmt::format("an area of the {} has no outline.", side));
  if (!(area.amount >= 0)) refuse(fmt::format("an area of the {} has less than no ink.", side));
  if (area.screen_lpi < 0 || area.screen_lpi > 300) {
    refuse(fmt::format("a screen of the {} has {} lines an inch, not 0 to 300.", side,
                       area.screen_lpi));
  }
  check_share(area.coverage, fmt::format("a coverage on the {}", side));
}

}  // namespace

const std::vector<Area>& areas_of(const Scene& scene, const std::string& side) {
  return side == "recto" ? scene.recto : scene.verso;
}

std::string other_side(const std::string& side) {
  return side == "recto" ? "verso" : "recto";
}

cv::Point2d through_paper(const Scene& scene, cv::Point2d mm) {
  if (scene.turn == "top") return {mm.x, scene.paper.height_mm - mm.y};
  return {scene.paper.width_mm - mm.x, mm.y};
}

cv::Mat through_paper(const Scene& scene, const cv::Mat& picture) {
  cv::Mat behind;
  cv::flip(picture, behind, scene.turn == "top" ? 0 : 1);
  return behind;
}

double at_stage(const std::map<std::string, double>& values, const std::string& stage,
                double missing) {
  const auto found = values.find(stage);
  return found == values.end() ? missing : found->second;
}

std::optional<std::size_t> stage_number(const Scene& scene, const std::string& stage) {
  const auto found = std::find(scene.stages.begin(), scene.stages.end(), stage);
  if (found == scene.stages.end()) return std::nullopt;
  return static_cast<std::size_t>(found - scene.stages.begin());
}

Spectrum paper_at(const Scene& scene, const std::string& stage) {
  return paper_reflectance(at_stage(scene.paper.toning, stage, 0),
                           at_stage(scene.paper.darkening, stage, 0));
}

void check(const Scene& scene) {
  if (scene.stages.empty()) refuse("it has no stage.");
  if (scene.turn != "side" && scene.turn != "top") refuse("turn must be \"side\" or \"top\".");
  const Paper& paper = scene.paper;
  if (!(paper.width_mm >= 10 && paper.width_mm <= 600 && paper.height_mm >= 10 &&
        paper.height_mm <= 600)) {
    refuse("the sheet must measure 10 to 600 mm a side.");
  }
  const Scanner& scanner = scene.scanner;
  if (!(scanner.dpi >= 75 && scanner.dpi <= 1200)) refuse("the scanner must have 75 to 1200 dpi.");
  if (scanner.bit_depth != 8 && scanner.bit_depth != 16) refuse("the bit depth must be 8 or 16.");
  if (scene.target_rows < 1 || scene.target_columns < 1 || scene.target_rows > 26) {
    refuse("the target must have 1 to 26 rows and at least one column.");
  }
  check_share(paper.show_through, "show-through");
  for (const auto& side : kSideNames) {
    for (const Area& area : areas_of(scene, side)) check_area(scene, area, side);
  }
  for (const auto& [ink, fate] : scene.fates) {
    if (!scene.inks.contains(ink)) refuse(fmt::format("fates name the ink \"{}\".", ink));
    for (const auto* values : {&fate.kept, &fate.bleeds_through, &fate.bleeds_sideways}) {
      for (const auto& [stage, value] : *values) {
        if (!(value >= 0)) refuse(fmt::format("the fate of {} at {} is {}.", ink, stage, value));
      }
    }
  }
  for (const TideMark& mark : scene.tide_marks) {
    if (!scene.inks.contains(mark.ink))
      refuse(fmt::format("a tide mark uses the ink \"{}\".", mark.ink));
    if (mark.path_mm.size() < 2) refuse("a tide mark has no length.");
    if (!stage_number(scene, mark.stage))
      refuse(fmt::format("a tide mark begins at the stage \"{}\".", mark.stage));
  }
  for (const NamedRegion& region : scene.regions) {
    if (region.outline_mm.size() < 3) refuse(fmt::format("region {} has no area.", region.id));
    if (region.side != "recto" && region.side != "verso") {
      refuse(fmt::format("region {} lies on no side.", region.id));
    }
  }
}

}  // namespace inkwane::simulate
