// A sheet to which nothing was done, scanned anew: nothing may be found.
#include <catch2/catch.hpp>

#include "tests/change/painted_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;

namespace {

double share_at_least(const cv::Mat& map, float limit) {
  double cells = 0, all = 0;
  for (int y = 0; y < map.rows; ++y) {
    for (int x = 0; x < map.cols; ++x) {
      const float v = map.at<float>(y, x);
      if (v == v) all += 1;
      if (v >= limit) cells += 1;
    }
  }
  return all > 0 ? cells / all : 0;
}

SheetPlan printed(std::uint64_t seed) {
  SheetPlan plan;
  plan.seed = seed;
  plan.recto = {{{5, 5, 14, 10}, "cyan", 3},
                {{22, 5, 14, 10}, "yellow", 3},
                {{40, 5, 14, 10}, "black", 4},
                {{5, 20, 14, 12}, "magenta", 3},
                {{40, 20, 14, 10}, "blue", 2}};
  for (int i = 0; i < 6; ++i)
    plan.recto.push_back({{22.0 + 2.5 * i, 20, 0.6, 14}, "black", 4});  // edges close together
  plan.verso = {{{8, 8, 20, 2}, "black", 4}, {{8, 14, 20, 2}, "black", 4}};
  return plan;
}

}  // namespace

TEST_CASE("An unchanged sheet shows no change, and its edges do not glow") {
  int found = 0, regions = 0;
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    SheetPlan plan = printed(seed);
    // Off by twice what the alignment claims, one sheet in three.
    plan.stages[1].shift_mm = seed % 3 == 0 ? cv::Point2d(0.05, 0) : cv::Point2d(0, 0);
    plan.misfit_mm = seed % 3 == 0 ? 0.025 : 0.02;
    PaintedSheet sheet(plan);
    sheet.add_region(Side::recto, "cyan", Role::ink, {5, 5, 14, 10});
    sheet.add_region(Side::recto, "black", Role::ink, {41, 6, 12, 8});
    sheet.add_region(Side::recto, "magenta", Role::added, {6, 21, 12, 10});
    sheet.add_region(Side::recto, "line", Role::ink, {22, 20, 0.6, 14});
    sheet.add_region(Side::recto, "bare", Role::paper, {22, 35.5, 10, 4});
    const change::SideOutput recto = change::assess_side(sheet.recto, nullptr);
    for (const auto& region : recto.regions) {
      const auto& change = region.changes[0];
      INFO("seed " << seed << ", " << region.id << ": dE00 " << *change.dE00 << " up to "
                   << (*change.dE00_ci95)[1]);
      CHECK((*change.dE00_ci95)[0] <= 0.05);
      found += *change.detectable ? 1 : 0;
      ++regions;
      if (change.strength_kept) {
        CHECK((*change.strength_kept_ci95)[0] <= 1);
        CHECK((*change.strength_kept_ci95)[1] >= 1);
      }
    }
    INFO("seed " << seed);
    // The difference map shows what the scans show; a sheet that lies off by 0.05 mm shows its
    // edges.
    if (seed % 3 != 0) CHECK(share_at_least(map_of(recto, "difference"), 2) <= 0.001);
    CHECK(share_at_least(map_of(recto, "gained-colour"), 2) <= 0.001);
    CHECK(recto.side.changes[0].lost_ink.share <= 0.001);
    CHECK(*recto.side.changes[0].lost_ink.mean_kept > 0.98);
    const change::OtherSide behind = sheet.behind_verso();
    const change::SideOutput verso = change::assess_side(sheet.verso, &behind);
    CHECK(share_at_least(map_of(verso, "bleed-through"), 2) <= 0.001);
  }
  INFO(found << " of " << regions << " regions detectable");
  CHECK(found == 0);
}

TEST_CASE("Lighter paper is neither lost ink nor gained colour") {
  for (const double toning : {-0.4, 0.4}) {
    SheetPlan plan = printed(9);
    plan.stages[1].toning = toning;
    PaintedSheet sheet(plan);
    const change::SideOutput recto = change::assess_side(sheet.recto, nullptr);
    INFO("toning " << toning);
    CHECK(recto.side.changes[0].lost_ink.share <= 0.001);
    CHECK(*recto.side.changes[0].lost_ink.mean_kept > 0.97);
    CHECK(recto.side.changes[0].gained_colour.share <= 0.001);
    CHECK(share_at_least(map_of(recto, "difference"), 0.5F) > 0.3);  // the paper did change
  }
}

TEST_CASE("The same input gives the same numbers with one thread and with several") {
  PaintedSheet sheet(printed(4));
  sheet.add_region(Side::recto, "cyan", Role::ink, {5, 5, 14, 10});
  const int threads = cv::getNumThreads();
  cv::setNumThreads(1);
  const change::SideOutput one = change::assess_side(sheet.recto, nullptr);
  cv::setNumThreads(3);
  const change::SideOutput three = change::assess_side(sheet.recto, nullptr);
  cv::setNumThreads(threads);
  CHECK(*change_of(one, "cyan").dE00 == *change_of(three, "cyan").dE00);
  CHECK(*change_of(one, "cyan").dE00_ci95 == *change_of(three, "cyan").dE00_ci95);
  CHECK(one.side.changes[0].lost_ink.mean_kept == three.side.changes[0].lost_ink.mean_kept);
  const cv::Mat a = map_of(one, "difference"), b = map_of(three, "difference");
  CHECK(cv::countNonZero((a != b) & (a == a)) == 0);
}
