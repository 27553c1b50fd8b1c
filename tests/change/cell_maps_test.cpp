// Maps against what was painted.
#include <cmath>

#include <catch2/catch.hpp>

#include "tests/change/painted_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

/// Mean of a map over a rectangle in millimetres.
double mean_in(const cv::Mat& map, const cv::Rect2d& mm) {
  double sum = 0, n = 0;
  for (int y = static_cast<int>(mm.y * 10); y < (mm.y + mm.height) * 10; ++y) {
    for (int x = static_cast<int>(mm.x * 10); x < (mm.x + mm.width) * 10; ++x) {
      sum += static_cast<double>(map.at<float>(y, x));
      n += 1;
    }
  }
  return sum / n;
}

}  // namespace

TEST_CASE("Lost ink, gained colour, difference and residual are where they were painted") {
  SheetPlan plan;
  plan.recto = {{{5, 5, 12, 12}, "cyan", 2},
                {{24, 5, 12, 12}, "magenta", 2},
                {{42, 5, 12, 12}, "brown", 0.3},
                {{5, 22, 12, 12}, "red", 2}};
  plan.stages[0].kept["brown"] = 0;  // a stain that comes with the treatment
  plan.stages[1].kept = {{"cyan", 0.7}, {"red", 0.15}};
  PaintedSheet sheet(plan);
  sheet.add_region(Side::recto, "red", Role::added, {5, 22, 12, 12});
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);

  const cv::Mat &lost = map_of(output, "lost-ink"), &gained = map_of(output, "gained-colour"),
                &difference = map_of(output, "difference"),
                &residual = map_of(output, "residual-added");
  CHECK_THAT(mean_in(lost, {6, 6, 10, 10}), WithinAbs(0.3, 0.03));
  CHECK_THAT(mean_in(lost, {25, 6, 10, 10}), WithinAbs(0, 0.01));
  CHECK(std::isnan(lost.at<float>(100, 400)));  // paper between
  CHECK(std::isnan(lost.at<float>(280, 100)));  // added colour does not count as ink
  CHECK_THAT(mean_in(gained, {25, 6, 10, 10}), WithinAbs(0, 0.05));
  CHECK_THAT(mean_in(gained, {6, 6, 10, 10}), WithinAbs(0, 0.05));
  const double stain = ciede2000(sheet.true_lab({}, 0), sheet.true_lab({{{}, "brown", 0.3}}, 1));
  CHECK_THAT(mean_in(gained, {43, 6, 10, 10}), WithinAbs(stain, 0.4));
  CHECK_THAT(mean_in(difference, {43, 6, 10, 10}), WithinAbs(stain, 0.4));
  const Paint cyan{{}, "cyan", 2};
  CHECK_THAT(mean_in(difference, {6, 6, 10, 10}),
             WithinAbs(ciede2000(sheet.true_lab({cyan}, 0), sheet.true_lab({cyan}, 1)), 0.4));
  CHECK_THAT(mean_in(residual, {6, 23, 10, 10}), WithinAbs(0.15, 0.03));
  CHECK(std::isnan(residual.at<float>(100, 100)));

  const auto& summary = output.side.changes[0];
  CHECK_THAT(summary.sheet_mm2, WithinAbs(60 * 40, 1));
  // The aperture mixes ink and paper over a quarter of a millimetre on either side of an edge.
  CHECK(summary.lost_ink.area_mm2 > 11.5 * 11.5);
  CHECK(summary.lost_ink.area_mm2 < 12.5 * 12.5 + 2);
  CHECK_THAT(summary.lost_ink.share,
             WithinAbs(summary.lost_ink.area_mm2 / summary.sheet_mm2, 1e-9));
  CHECK_THAT(*summary.lost_ink.mean_kept, WithinAbs(0.85, 0.03));  // cyan and magenta, equal areas
  CHECK_THAT(summary.gained_colour.area_mm2, WithinAbs(12 * 12, 12));
  CHECK_THAT(*summary.gained_colour.mean_dE00, WithinAbs(stain, 0.6));
  CHECK_FALSE(summary.bleed_through);
}

TEST_CASE("What was not measured stays so in every map, and out of the sheet's area") {
  SheetPlan plan;
  plan.recto = {{{5, 5, 12, 12}, "cyan", 2}};
  PaintedSheet sheet(plan);
  const cv::Rect hole(200, 100, 50, 40);
  sheet.recto.layers[1].valid(hole).setTo(0);
  sheet.recto.sheet(cv::Rect(0, 300, 600, 100)).setTo(0);
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  for (const std::string kind : {"difference", "lost-ink", "gained-colour"}) {
    CHECK(std::isnan(map_of(output, kind).at<float>(120, 220)));
    CHECK(std::isnan(map_of(output, kind).at<float>(350, 220)));
  }
  CHECK_THAT(output.side.changes[0].sheet_mm2, WithinAbs(60 * 30 - 20, 1e-6));
  CHECK(output.maps.size() == 3);  // no residual map where nothing was added
}

TEST_CASE("Lost ink and residual of a sheet whose inks are films go by density") {
  SheetPlan plan;
  plan.law = InkLaw::film;
  plan.recto = {{{5, 5, 12, 12}, "cyan", 2}, {{5, 22, 12, 12}, "red", 2}};
  plan.stages[1].kept = {{"cyan", 0.7}, {"red", 0.3}};
  PaintedSheet sheet(plan);
  sheet.add_region(Side::recto, "red", Role::added, {5, 22, 12, 12});
  change::OtherSide told;
  told.inks = {10, 10};  // as clear as can be
  const change::SideOutput film = change::assess_side(sheet.recto, &told),
                           untold = change::assess_side(sheet.recto, nullptr);
  CHECK_THAT(mean_in(map_of(film, "lost-ink"), {6, 6, 10, 10}), WithinAbs(0.3, 0.03));
  CHECK_THAT(mean_in(map_of(film, "residual-added"), {6, 23, 10, 10}), WithinAbs(0.3, 0.03));
  CHECK(mean_in(map_of(untold, "lost-ink"), {6, 6, 10, 10}) > 0.35);
}

TEST_CASE("Noise does not pass for a difference") {
  const PaintedSheet sheet{SheetPlan{}};
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  const cv::Mat& difference = map_of(output, "difference");
  // χ² of 3 directions stays below 2 in 43 % of cells; none would be 0 if nothing were taken off,
  // and nearly all if too much were.
  const double none = cv::countNonZero(difference == 0),
               measured = cv::countNonZero(difference >= 0);
  CHECK(none / measured > 0.2);
  CHECK(none / measured < 0.55);
}
