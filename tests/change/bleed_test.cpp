// Bleed-through: what the verso gained from the recto, told from show-through, toning and stains.
#include <cmath>

#include <catch2/catch.hpp>

#include "tests/change/painted_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

const cv::Rect2d kMagenta{6, 6, 12, 12}, kCyan{40, 6, 12, 12}, kBlack{6, 24, 12, 10};

SheetPlan bleeding() {
  SheetPlan plan;
  plan.recto = {{kMagenta, "magenta", 3}, {kCyan, "cyan", 3}, {kBlack, "black", 4}};
  plan.verso = {{{20, 2, 20, 1}, "black", 3}};
  plan.stages[1].through = {{"magenta", 0.08}, {"cyan", 0.04}};
  plan.stages[1].kept = {{"magenta", 0.5}, {"cyan", 0.8}};
  plan.stages[1].toning = -0.2;
  return plan;
}

cv::Rect2d behind(const cv::Rect2d& mm) {
  return {60 - mm.x - mm.width, mm.y, mm.width, mm.height};
}

double covered(const cv::Mat& map, const cv::Rect2d& mm) {
  double n = 0, all = 0;
  for (int y = static_cast<int>(mm.y * 10); y < (mm.y + mm.height) * 10; ++y) {
    for (int x = static_cast<int>(mm.x * 10); x < (mm.x + mm.width) * 10; ++x)
      all += 1, n += map.at<float>(y, x) >= 2 ? 1 : 0;
  }
  return n / all;
}

}  // namespace

TEST_CASE("Bleed-through is found where it came through, and its colours named") {
  PaintedSheet sheet(bleeding());
  sheet.add_region(Side::recto, "magenta", Role::added, kMagenta);
  const change::OtherSide other = sheet.behind_verso();
  const change::SideOutput output = change::assess_side(sheet.verso, &other);
  const cv::Mat& map = map_of(output, "bleed-through");

  double both = 0, either = 0;
  for (int y = 0; y < map.rows; ++y) {
    for (int x = 0; x < map.cols; ++x) {
      const cv::Point2d mm((x + 0.5) / 10, (y + 0.5) / 10);
      const bool truth = behind(kMagenta).contains(mm) || behind(kCyan).contains(mm),
                 found = map.at<float>(y, x) >= 2;
      both += truth && found ? 1 : 0;
      either += truth || found ? 1 : 0;
    }
  }
  INFO("intersection over union " << both / either);
  CHECK(both / either >= 0.93);
  CHECK(covered(map, behind(kBlack)) < 0.01);  // show-through alone is not bleed

  REQUIRE(output.side.changes[0].bleed_through);
  const auto& found = *output.side.changes[0].bleed_through;
  CHECK_THAT(found.area.area_mm2, WithinAbs(2 * 144, 25));
  REQUIRE(found.sources.size() >= 2);
  double sum = 0;
  for (const auto& source : found.sources) sum += source.share;
  CHECK(sum <= 1.0 + 1e-6);
  CHECK(sum > 0.85);
  // The first is the magenta: twice the share of the cyan's strength came through.
  CHECK(ciede2000(found.sources[0].lab, sheet.true_lab({{{}, "magenta", 3}}, 0)) < 4);
  CHECK(ciede2000(found.sources[1].lab, sheet.true_lab({{{}, "cyan", 3}}, 0)) < 4);
  CHECK(found.sources[0].share > found.sources[1].share);

  const double truth =
      ciede2000(sheet.true_lab({{{}, "magenta", 3 * 0.08}}, 1), sheet.true_lab({}, 1));
  const double centre = static_cast<double>(map.at<float>(120, 480));
  INFO("at the magenta " << centre << ", painted about " << truth);
  CHECK(centre > 4);
}

TEST_CASE("Added colour is named as what came through, however many inks are named") {
  SheetPlan plan = bleeding();
  plan.recto = {{kMagenta, "magenta", 3}};
  plan.stages[1].through = {{"magenta", 0.08}};
  const std::vector<std::vector<const char*>> inks{
      {"cyan"},         {"yellow"},         {"red"},           {"blue"},           {"black"},
      {"brown"},        {"cyan", "yellow"}, {"cyan", "brown"}, {"blue", "yellow"}, {"cyan", "red"},
      {"brown", "red"}, {"blue", "brown"}};
  std::vector<cv::Rect2d> places;
  for (std::size_t i = 0; i < inks.size(); ++i) {
    places.emplace_back(22 + 6 * static_cast<double>(i % 6), i < 6 ? 6 : 24, 4, 8);
    for (const char* ink : inks[i]) plan.recto.push_back({places.back(), ink, 2});
  }
  PaintedSheet sheet(plan);
  for (std::size_t i = 0; i < places.size(); ++i)
    sheet.add_region(Side::recto, "ink-" + std::to_string(i), Role::ink, places[i]);
  sheet.add_region(Side::recto, "touch", Role::added, kMagenta);
  const change::OtherSide other = sheet.behind_verso();
  const change::SideOutput output = change::assess_side(sheet.verso, &other);
  const auto& sources = output.side.changes[0].bleed_through->sources;
  REQUIRE_FALSE(sources.empty());
  CHECK(ciede2000(sources[0].lab, sheet.true_lab({{{}, "magenta", 3}}, 0)) < 4);
  CHECK(sources[0].share > 0.85);
}

TEST_CASE("A stain with nothing behind it is not bleed-through") {
  SheetPlan plan = bleeding();
  plan.stages[1].through.clear();
  plan.stages[1].stains = {{{24, 24, 8, 8}, "brown", 0.3}};
  PaintedSheet sheet(plan);
  const change::OtherSide other = sheet.behind_verso();
  const change::SideOutput output = change::assess_side(sheet.verso, &other);
  CHECK(covered(map_of(output, "bleed-through"), {24, 24, 8, 8}) < 0.01);
  CHECK(covered(map_of(output, "gained-colour"), {24.5, 24.5, 7, 7}) > 0.95);
  double sum = 0;
  for (const auto& source : output.side.changes[0].bleed_through->sources) sum += source.share;
  CHECK(sum < 0.2);
}

TEST_CASE("Print that faded on the recto shows through less, and that hides no bleed") {
  SheetPlan plan = bleeding();
  plan.show_through = 0.10;
  plan.stages[1].kept["magenta"] = 0.02;  // the print is gone, and with it its show-through
  plan.stages[1].through = {{"magenta", 0.03}};
  PaintedSheet sheet(plan);
  const change::OtherSide other = sheet.behind_verso();
  const change::SideOutput output = change::assess_side(sheet.verso, &other);
  CHECK(covered(map_of(output, "bleed-through"), {43, 7, 10, 10}) > 0.95);
  CHECK(covered(map_of(output, "bleed-through"), behind(kCyan)) < 0.02);
}

TEST_CASE("Where the sides are not paired every local gain counts, with a warning") {
  SheetPlan plan = bleeding();
  plan.stages[1].stains = {{{24, 24, 8, 8}, "brown", 0.3}};
  PaintedSheet sheet(plan);
  change::OtherSide other;
  other.input = &sheet.recto;
  for (const change::OtherSide* given : {static_cast<const change::OtherSide*>(nullptr),
                                         static_cast<const change::OtherSide*>(&other)}) {
    const change::SideOutput output = change::assess_side(sheet.verso, given);
    CHECK(covered(map_of(output, "bleed-through"), {24.5, 24.5, 7, 7}) > 0.95);
    CHECK(output.side.changes[0].bleed_through->sources.empty());
    CHECK_FALSE(output.side.changes[0].warnings.empty());
  }
}
