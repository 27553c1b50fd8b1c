// Protects: what still shows of added colour is listed with its place, area and contrast, strongest
// first; what no longer shows is not; and the least that would have been listed is said.
#include "finding/still_shows.hpp"

#include <catch2/catch.hpp>

#include "tests/finding/viewed_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

const cv::Rect2d kRed{8, 6, 10, 6}, kCyan{30, 20, 8, 8}, kGone{44, 6, 8, 8};

SheetPlan treated() {
  SheetPlan plan;
  plan.recto = {{kRed, "red", 2}, {kCyan, "cyan", 2}, {kGone, "magenta", 2}};
  plan.stages[1].kept = {{"red", 0.10}, {"cyan", 0.4}, {"magenta", 0}};
  return plan;
}

}  // namespace

TEST_CASE("Added colour that still shows is listed where it is") {
  PaintedSheet sheet(treated());
  sheet.add_region(Side::recto, "red", Role::added, kRed);
  sheet.add_region(Side::recto, "cyan", Role::added, kCyan);
  sheet.add_region(Side::recto, "gone", Role::added, kGone);
  const ViewedRecto viewed(sheet);
  results::Findings findings;
  finding::find_still_shows(viewed.view, findings);

  REQUIRE(findings.still_shows.size() == 2);
  const results::StillShows& red = findings.still_shows[0];
  CHECK(red.region == "red");
  CHECK(red.stage == "AT");
  // The middle of the patch, and its area but for the rim that the aperture pales.
  CHECK_THAT(red.place.at_mm.x, WithinAbs(13, 0.1));
  CHECK_THAT(red.place.at_mm.y, WithinAbs(9, 0.1));
  CHECK_THAT(red.place.area_mm2, WithinAbs(60, 4));
  REQUIRE(red.place.outline.size() >= 4);
  CHECK_THAT(red.residual.value(), WithinAbs(0.10, 0.02));
  std::vector<Paint> paper, left{{kRed, "red", 2}};
  const double contrast = ciede2000(sheet.true_lab(left, 1), sheet.true_lab(paper, 1));
  CHECK_THAT(red.contrast_dE00, WithinAbs(contrast, 0.5));
  CHECK(findings.still_shows[1].region == "cyan");

  REQUIRE(findings.limits.size() == 1);
  CHECK(findings.limits[0].what == "still_shows");
  CHECK(findings.limits[0].contrast_dE00 >= 1);
  CHECK(findings.limits[0].contrast_dE00 < 2);
}

TEST_CASE("Over an ink, what shows is judged against the ink as it is now") {
  SheetPlan plan;
  const cv::Rect2d ink{4, 4, 30, 12}, touch{22, 6, 8, 8};
  plan.recto = {{ink, "yellow", 2}, {touch, "magenta", 1}};
  plan.stages[1].kept = {{"yellow", 0.6}, {"magenta", 0.3}};
  PaintedSheet sheet(plan);
  sheet.add_region(Side::recto, "yellow", Role::ink, {5, 5, 14, 10});
  sheet.add_region(Side::recto, "touch", Role::added, touch, "yellow");
  const ViewedRecto viewed(sheet);
  results::Findings findings;
  finding::find_still_shows(viewed.view, findings);
  REQUIRE(findings.still_shows.size() == 1);
  const LabD50 bare = sheet.true_lab({{ink, "yellow", 2}}, 1);
  CHECK(ciede2000(findings.still_shows[0].around, bare) < 0.5);
}
