// Protects: the sheet's inks are found without regions, named in plain words, and what each kept is
// right, with the place where least was kept.
#include "finding/sheet_inks.hpp"

#include <algorithm>

#include <catch2/catch.hpp>

#include "finding/colour_words.hpp"
#include "tests/finding/viewed_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

TEST_CASE("Inks that no region names are found and followed") {
  SheetPlan plan;
  plan.recto = {{{4, 4, 16, 12}, "red", 2},
                {{26, 4, 16, 12}, "cyan", 2},
                {{26, 22, 12, 12}, "cyan", 2},
                {{46, 22, 8, 10}, "magenta", 1}};
  plan.stages[1].kept = {{"red", 0.7}, {"cyan", 0.95}, {"magenta", 0.2}};
  PaintedSheet sheet(plan);
  sheet.add_region(Side::recto, "touch", Role::added, {46, 22, 8, 10});
  const ViewedRecto viewed(sheet);
  results::Findings findings;
  finding::find_sheet_inks(viewed.view, findings);

  REQUIRE(findings.inks.size() == 2);  // the added colour is none of the print's
  const results::SheetInk &cyan = findings.inks[0], &red = findings.inks[1];
  CHECK_THAT(cyan.area_mm2, WithinAbs(16 * 12 + 12 * 12, 40));
  CHECK_THAT(red.area_mm2, WithinAbs(16 * 12, 25));
  CHECK(ciede2000(red.lab, sheet.true_lab({{{}, "red", 2}}, 0)) < 1.5);
  REQUIRE(red.changes.size() == 1);
  CHECK_THAT(red.changes[0].mean_kept.value(), WithinAbs(0.7, 0.03));
  CHECK((*red.changes[0].mean_kept_ci95)[0] <= 0.7);
  CHECK((*red.changes[0].mean_kept_ci95)[1] >= 0.7);
  CHECK_THAT(cyan.changes[0].mean_kept.value(), WithinAbs(0.95, 0.03));
  CHECK(red.changes[0].worst_kept.value() <= red.changes[0].mean_kept.value() + 0.02);
  const Point worst = red.changes[0].worst_at_mm;
  CHECK(cv::Rect2d(4, 4, 16, 12).contains(cv::Point2d(worst.x, worst.y)));
}

TEST_CASE("Colours have plain names") {
  using finding::colour_words;
  CHECK(colour_words({20, 1, 1}) == "black");
  CHECK(colour_words({45, 60, 40}) == "red");
  CHECK(colour_words({30, 45, 28}) == "dark red");
  CHECK(colour_words({85, 0, 80}) == "yellow");
  CHECK(colour_words({50, 20, 30}) == "brown");
  CHECK(colour_words({50, -45, 30}) == "green");
  CHECK(colour_words({84, -20, 12}) == "pale green");
  CHECK(colour_words({45, 0, -40}) == "blue");
  CHECK(colour_words({46, -21, -39}) == "blue");
  CHECK(colour_words({69, 4, 11}) == "brown");  // grey-brown of old type, no yellow
  CHECK(colour_words({66, 0, 2}) == "grey");
}
