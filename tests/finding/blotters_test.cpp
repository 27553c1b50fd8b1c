// Protects: what a blotter lifted is measured against its own unused part, told by its colour to be
// of the added colour or of an ink, and said in plain words; an unused blotter lifted nothing.
#include "finding/blotters.hpp"

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "tests/finding/viewed_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

const cv::Rect2d kTouch{8, 6, 10, 8}, kInk{30, 6, 10, 8}, kStain{10, 10, 20, 10};

/// A blotter made as a sheet is: stains of inks on paper.
results::Blotter blotted(const std::vector<Paint>& stains, bool off_scan = false) {
  SheetPlan plan;
  plan.recto = {{kTouch, "magenta", 2}, {kInk, "cyan", 2}};
  PaintedSheet sheet(plan);
  sheet.add_region(Side::recto, "touch", Role::added, kTouch);
  sheet.add_region(Side::recto, "ink", Role::ink, kInk);
  const ViewedRecto viewed(sheet);

  SheetPlan lifted;
  lifted.recto = stains;
  lifted.stages.resize(1);
  lifted.seed = 2;
  const PaintedSheet blotter(lifted);
  BlotterScan record;
  record.id = "first";
  record.stage = "AT";
  // Cells of 0.1 mm, a pixel each.
  record.blank = {{400, 250}, {off_scan ? 5000.0 : 560.0, 250}, {560, 350}, {400, 350}};
  const change::Layer& layer = blotter.recto.layers.front();
  const finding::BlotterView view{&record,     "blotter.tif", "00",        blotter.recto.geometry,
                                  layer.light, layer.xyz,     layer.valid, layer.fit,
                                  {}};
  return finding::measure_blotter(view, {viewed.view}, {}, "treatment.toml");
}

double share(const results::Blotter& blotter, const std::string& region) {
  for (const auto& match : blotter.matches) {
    if (match.region == region) return match.share;
  }
  return 0;
}

}  // namespace

TEST_CASE("A blotter that lifted added colour alone") {
  const results::Blotter blotter = blotted({{kStain, "magenta", 0.1}});
  CHECK_THAT(blotter.stained_mm2, WithinRel(200.0, 0.15));
  REQUIRE(blotter.absorption_mm2_ci95);
  CHECK((*blotter.absorption_mm2_ci95)[0] < blotter.absorption_mm2);
  CHECK((*blotter.absorption_mm2_ci95)[1] > blotter.absorption_mm2);
  CHECK(share(blotter, "touch") > 0.85);
  CHECK(share(blotter, "ink") < 0.1);
  CHECK(blotter.took_original == false);
  CHECK_THAT(blotter.sentence, Contains("added colour"));
}

TEST_CASE("A blotter that took original ink as well says so") {
  const results::Blotter blotter = blotted({{kStain, "magenta", 0.06}, {kStain, "cyan", 0.08}});
  CHECK(blotter.took_original == true);
  CHECK_THAT(blotter.sentence, Contains("It took original ink"));
  CHECK(share(blotter, "touch") > 0.2);
  CHECK(share(blotter, "ink") > 0.2);
  double sum = blotter.unexplained.value();
  for (const auto& match : blotter.matches) sum += match.share;
  CHECK_THAT(sum, WithinAbs(1, 0.05));
}

TEST_CASE("Twice the colour is twice the amount") {
  const double once = blotted({{kStain, "magenta", 0.05}}).absorption_mm2,
               twice = blotted({{kStain, "magenta", 0.1}}).absorption_mm2;
  CHECK_THAT(twice / once, WithinAbs(2, 0.15));
}

TEST_CASE("An unused blotter lifted nothing") {
  const results::Blotter blotter = blotted({});
  CHECK(blotter.stained_mm2 == 0);
  CHECK(blotter.matches.empty());
  CHECK_FALSE(blotter.took_original);
  CHECK_THAT(blotter.sentence, Contains("would have been seen"));  // nothing is a finding as well
  CHECK((*blotter.absorption_mm2_ci95)[0] <= 0);
  CHECK((*blotter.absorption_mm2_ci95)[1] >= 0);
}

TEST_CASE("A polygon off the blotter's scan is refused") {
  CHECK_THROWS_AS(blotted({}, true), Error);
}
