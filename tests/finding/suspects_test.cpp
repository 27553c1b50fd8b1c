// Protects: touches that nobody named are found before treatment and from their response, with a
// reason in words, ranked, and as a region that can be drawn; the print itself is not suspected.
#include "finding/suspects.hpp"

#include <algorithm>

#include <catch2/catch.hpp>

#include "tests/finding/viewed_sheet.hpp"
#include "treatment/polygon.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

const cv::Rect2d kRed{4, 4, 10, 8}, kCyan{18, 4, 10, 8}, kAgain{46, 4, 10, 8}, kTouch{32, 22, 8, 5};

/// Two inks, one of them printed a second time where no region names it.
SheetPlan printed() {
  SheetPlan plan;
  plan.recto = {{kRed, "red", 2}, {kCyan, "cyan", 2}, {kAgain, "red", 2}};
  plan.stages[1].kept = {{"red", 0.8}, {"cyan", 0.9}, {"magenta", 0.2}};
  return plan;
}

results::Findings searched(const SheetPlan& plan) {
  PaintedSheet sheet(plan);
  sheet.add_region(Side::recto, "red", Role::ink, kRed);
  sheet.add_region(Side::recto, "cyan", Role::ink, kCyan);
  const ViewedRecto viewed(sheet);
  results::Findings findings;
  finding::find_suspects(viewed.view, findings);
  return findings;
}

}  // namespace

TEST_CASE("An undeclared touch is suspected, its place and reason given") {
  SheetPlan plan = printed();
  plan.recto.push_back({kTouch, "magenta", 0.8});
  bool before = false;
  SECTION("before treatment, from one stage") {
    plan.stages.resize(1);
    before = true;
  }
  SECTION("from its response too") {}
  const results::Findings findings = searched(plan);
  REQUIRE(findings.suspects.size() == 1);
  const results::Suspect& suspect = findings.suspects[0];
  CHECK_THAT(suspect.place.at_mm.x, WithinAbs(36, 0.3));
  CHECK_THAT(suspect.place.at_mm.y, WithinAbs(24.5, 0.3));
  CHECK_THAT(suspect.place.area_mm2, WithinAbs(40, 8));
  CHECK(suspect.under == "paper");
  CHECK(suspect.score > (before ? 0.3 : 0.7));
  CHECK(suspect.score <= 1);
  CHECK(suspect.from.empty() == before);
  CHECK(suspect.reason.back() == '.');
  CHECK(suspect.place.outline.size() >= 3);
  CHECK_FALSE(treatment::crossing_edges(suspect.place.outline));
}

TEST_CASE("A touch of a print's own colour is known by how it fades") {
  SheetPlan plan = printed();
  plan.recto.push_back({kTouch, "blue", 0.5});
  plan.stages[1].kept["blue"] = 0.2;
  const results::Findings findings = searched(plan);
  REQUIRE(findings.suspects.size() == 1);
  CHECK(findings.suspects[0].to == "AT");
}

TEST_CASE("The print is not suspected, and the least that would be found is said") {
  const results::Findings findings = searched(printed());
  CHECK(findings.suspects.empty());
  const auto of_suspects = std::count_if(findings.limits.begin(), findings.limits.end(),
                                         [](const auto& l) { return l.what == "suspects"; });
  CHECK(of_suspects == 2);  // of the first stage, and of the response
}
