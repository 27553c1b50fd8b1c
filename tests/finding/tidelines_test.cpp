// Protects: a tideline is found where it runs, with its length and contrast; neither a touch that
// bled about its edge nor a stain is taken for one; and what would have been found is said.
#include "finding/tidelines.hpp"

#include <cmath>

#include <catch2/catch.hpp>

#include "tests/finding/viewed_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

results::Findings searched(const SheetPlan& plan) {
  // Stains are new on the verso.
  PaintedSheet sheet(plan);
  const change::SideOutput output = change::assess_side(sheet.verso, nullptr);
  results::Findings findings;
  finding::find_tidelines(whole(sheet.verso, output), findings);
  return findings;
}

/// A wavy line of short, thin pieces.
std::vector<Paint> wavy(double strength) {
  std::vector<Paint> pieces;
  for (double x = 10; x < 50; x += 0.2)
    pieces.push_back({{x, 18 + 3 * std::sin(x / 6), 0.25, 0.9}, "brown", strength});
  return pieces;
}

}  // namespace

TEST_CASE("A tideline is found along its length") {
  SheetPlan plan;
  plan.recto = {{{5, 5, 20, 10}, "magenta", 2}};
  plan.verso = {{{20, 30, 10, 6}, "black", 3}};
  plan.stages[1].stains = wavy(0.012);
  const results::Findings findings = searched(plan);
  REQUIRE(findings.tidelines.size() == 1);
  const results::Tideline& line = findings.tidelines[0];
  CHECK(line.side == Side::verso);
  CHECK_THAT(line.length_mm, WithinAbs(42, 4));
  CHECK_THAT(line.at_mm.y, WithinAbs(18 + 3 * std::sin(line.at_mm.x / 6) + 0.45, 0.4));
  CHECK(line.width_mm > 0.5);
  CHECK(line.width_mm < 1.8);
  CHECK(line.contrast_dE00 > 2);
  REQUIRE(findings.limits.size() == 1);
  CHECK(findings.limits[0].what == "tidelines");
  CHECK(findings.limits[0].length_mm > 0);
}

TEST_CASE("A stain with an edge is no tideline, nor is what is fainter than the limit") {
  SheetPlan plan;
  SECTION("a stain") {
    plan.stages[1].stains = {{{10, 8, 25, 14}, "brown", 0.15}};
  }
  SECTION("a faint line") {
    plan.stages[1].stains = wavy(0.003);
  }
  SECTION("nothing") {}
  const results::Findings findings = searched(plan);
  CHECK(findings.tidelines.empty());
  CHECK(findings.limits.size() == 1);
}
