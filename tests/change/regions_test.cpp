// Regions of painted sheets: colour, change, strength and residual against what was painted.
#include <list>

#include <catch2/catch.hpp>

#include "tests/change/painted_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

/// A sheet of inks that keep different shares, and a magenta line that was added.
SheetPlan treated(InkLaw law = InkLaw::kubelka_munk) {
  SheetPlan plan;
  plan.law = law;
  plan.recto = {{{5, 5, 10, 10}, "cyan", 3},       {{20, 5, 10, 10}, "yellow", 3},
                {{35, 5, 10, 10}, "black", 4},     {{5, 20, 10, 10}, "blue", 2},
                {{20, 20, 20, 0.6}, "magenta", 3}, {{45, 20, 8, 8}, "magenta", 2},
                {{37, 7, 4, 4}, "magenta", 2},     {{45, 5, 10, 10}, "red", 2}};
  plan.recto[6] = {{47, 7, 4, 4}, "magenta", 2};  // over the red
  plan.stages[1].kept = {
      {"cyan", 0.85}, {"yellow", 0.6}, {"blue", 0.95}, {"magenta", 0.12}, {"red", 0.9}};
  plan.stages[1].toning = -0.2;
  return plan;
}

void name_regions(PaintedSheet& sheet) {
  sheet.add_region(Side::recto, "cyan", Role::ink, {6, 6, 8, 8});
  sheet.add_region(Side::recto, "yellow", Role::ink, {21, 6, 8, 8});
  sheet.add_region(Side::recto, "black", Role::ink, {36, 6, 8, 8});
  sheet.add_region(Side::recto, "blue", Role::ink, {6, 21, 8, 8});
  sheet.add_region(Side::recto, "red", Role::ink, {51.5, 6, 3, 8});
  sheet.add_region(Side::recto, "line", Role::added, {20, 20, 20, 0.6});
  sheet.add_region(Side::recto, "patch", Role::added, {46, 21, 6, 6});
  sheet.add_region(Side::recto, "on red", Role::added, {47.5, 7.5, 3, 3}, "red");
  sheet.add_region(Side::recto, "bare", Role::paper, {20, 32, 10, 5});
}

}  // namespace

TEST_CASE("Colour change of regions is that of the paint") {
  PaintedSheet sheet(treated());
  name_regions(sheet);
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  const std::map<std::string, Paint> paints{
      {"cyan", {{}, "cyan", 3}}, {"yellow", {{}, "yellow", 3}}, {"black", {{}, "black", 4}},
      {"blue", {{}, "blue", 2}}, {"line", {{}, "magenta", 3}},  {"patch", {{}, "magenta", 2}}};
  for (const auto& [id, paint] : paints) {
    const auto& change = change_of(output, id);
    const LabD50 before = sheet.true_lab({paint}, 0), after = sheet.true_lab({paint}, 1);
    const double truth = ciede2000(before, after);
    INFO(id << ": " << *change.dE00 << " [" << (*change.dE00_ci95)[0] << ", "
            << (*change.dE00_ci95)[1] << "], true " << truth);
    // Of the thin line three quarters of its light has mixed with the paper's; of the black, a step
    // of noise in the target's readings is a large part of what little light there is.
    const double wide = id == "line" || id == "black" ? 3 : 1;
    CHECK_THAT(*change.dE00, WithinAbs(truth, 0.4 * wide));
    CHECK((*change.dE00_ci95)[0] <= truth);
    CHECK((*change.dE00_ci95)[1] >= truth);
    CHECK(*change.detectable == (truth > 0.5));
    CHECK_THAT(*change.dL, WithinAbs(after.L - before.L, 0.4 * wide));
    CHECK_THAT(*change.dC, WithinAbs(chroma(after) - chroma(before), 0.8 * wide));
    CHECK_THAT(*change.dH, WithinAbs(delta_hue(before, after), 0.8 * wide));
  }
}

TEST_CASE("Strength kept and residual are what was painted") {
  PaintedSheet sheet(treated());
  name_regions(sheet);
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  for (const auto& [id, kept] : std::map<std::string, double>{
           {"cyan", 0.85}, {"yellow", 0.6}, {"black", 1.0}, {"blue", 0.95}, {"red", 0.9}}) {
    const auto& change = change_of(output, id);
    REQUIRE(change.strength_kept);
    INFO(id << ": " << *change.strength_kept << " [" << (*change.strength_kept_ci95)[0] << ", "
            << (*change.strength_kept_ci95)[1] << "], true " << kept);
    CHECK_THAT(*change.strength_kept, WithinAbs(kept, 0.05));
    CHECK((*change.strength_kept_ci95)[0] <= kept);
    CHECK((*change.strength_kept_ci95)[1] >= kept);
    CHECK_FALSE(change.residual);
  }
  for (const std::string id : {"line", "patch", "on red"}) {
    const auto& change = change_of(output, id);
    REQUIRE(change.residual);
    INFO(id << ": " << *change.residual << " [" << (*change.residual_ci95)[0] << ", "
            << (*change.residual_ci95)[1] << "]");
    CHECK_THAT(*change.residual, WithinAbs(0.12, id == "line" ? 0.05 : 0.03));
    CHECK((*change.residual_ci95)[0] <= 0.12);
    CHECK((*change.residual_ci95)[1] >= 0.12);
    CHECK((*change.residual_ci95)[0] >= 0);
    CHECK_FALSE(change.strength_kept);
    REQUIRE(change.contrast_dE00);
  }
  // Over the red, the eye compares with the red as it is now.
  const double contrast = ciede2000(sheet.true_lab({{{}, "red", 2}, {{}, "magenta", 2}}, 1),
                                    sheet.true_lab({{{}, "red", 2}}, 1));
  CHECK_THAT(*change_of(output, "on red").contrast_dE00, WithinAbs(contrast, 0.5));
  const auto& bare = change_of(output, "bare");
  CHECK_FALSE(bare.strength_kept);
  CHECK_FALSE(bare.residual);
}

TEST_CASE("Without a paper region the sheet's own paper beside the region serves") {
  PaintedSheet sheet(treated());
  sheet.add_region(Side::recto, "yellow", Role::ink, {21, 6, 8, 8});
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  REQUIRE(change_of(output, "yellow").strength_kept);
  CHECK_THAT(*change_of(output, "yellow").strength_kept, WithinAbs(0.6, 0.05));
}

TEST_CASE("Film inks: the interval spans the law") {
  PaintedSheet sheet(treated(InkLaw::film));
  name_regions(sheet);
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  for (const auto& [id, kept] : std::map<std::string, double>{
           {"cyan", 0.85}, {"yellow", 0.6}, {"blue", 0.95}, {"red", 0.9}}) {
    const auto& change = change_of(output, id);
    REQUIRE(change.strength_kept);
    INFO(id << ": " << *change.strength_kept << " [" << (*change.strength_kept_ci95)[0] << ", "
            << (*change.strength_kept_ci95)[1] << "], true " << kept);
    CHECK((*change.strength_kept_ci95)[0] <= kept);
    CHECK((*change.strength_kept_ci95)[1] >= kept);
  }
}

TEST_CASE("Numbers that cannot be had are none, with a warning") {
  SheetPlan plan = treated();
  PaintedSheet sheet(plan);
  sheet.add_region(Side::recto, "on nothing", Role::added, {46, 21, 6, 6},
                   "an ink of the other side");
  sheet.add_region(Side::recto, "no ink", Role::ink, {20, 32, 8, 5});
  sheet.add_region(Side::recto, "covered", Role::ink, {6, 6, 8, 8});
  sheet.recto.layers[1].valid(cv::Rect(55, 55, 100, 100)).setTo(0);
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  CHECK_FALSE(change_of(output, "on nothing").residual);
  CHECK_FALSE(change_of(output, "on nothing").warnings.empty());
  CHECK_FALSE(change_of(output, "no ink").strength_kept);
  CHECK_FALSE(change_of(output, "no ink").warnings.empty());
  CHECK_FALSE(change_of(output, "covered").dE00);
  CHECK_FALSE(change_of(output, "covered").warnings.empty());
}

TEST_CASE("Pairs of stages are compared once each, and from-first strength is the whole loss") {
  CHECK(change::stage_pairs(1).empty());
  CHECK(change::stage_pairs(2) == std::vector<std::pair<int, int>>{{0, 1}});
  CHECK(change::stage_pairs(4) ==
        std::vector<std::pair<int, int>>{{0, 1}, {0, 2}, {1, 2}, {0, 3}, {2, 3}});

  SheetPlan plan = treated();
  plan.stages.push_back(plan.stages[1]);
  plan.stages[1].name = "DT1";
  plan.stages[2].kept["yellow"] = 0.3;
  PaintedSheet sheet(plan);
  sheet.add_region(Side::recto, "yellow", Role::ink, {21, 6, 8, 8});
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  REQUIRE(output.regions[0].changes.size() == 3);
  CHECK(output.regions[0].changes[1].from == "BT");
  CHECK(output.regions[0].changes[1].to == "AT");
  CHECK_THAT(*output.regions[0].changes[1].strength_kept, WithinAbs(0.3, 0.05));
  CHECK(output.regions[0].changes[2].from == "DT1");
  CHECK_THAT(*output.regions[0].changes[2].strength_kept, WithinAbs(0.5, 0.06));
  CHECK(output.regions[0].stages.size() == 3);
}

TEST_CASE("Without a target everything is there, with wide uncertainty") {
  SheetPlan plan = treated();
  plan.calibrated = false;
  PaintedSheet rough(plan);
  name_regions(rough);
  plan.calibrated = true;
  PaintedSheet good(plan);
  name_regions(good);
  const change::SideOutput wide = change::assess_side(rough.recto, nullptr),
                           narrow = change::assess_side(good.recto, nullptr);
  const auto& u = wide.regions[0].stages[0].second.u_lab;
  const auto& v = narrow.regions[0].stages[0].second.u_lab;
  CHECK(u.L > 2 * v.L);
  CHECK(u.L > 1);
  REQUIRE(change_of(wide, "yellow").strength_kept);
  CHECK((*change_of(wide, "yellow").strength_kept_ci95)[1] -
            (*change_of(wide, "yellow").strength_kept_ci95)[0] >
        (*change_of(narrow, "yellow").strength_kept_ci95)[1] -
            (*change_of(narrow, "yellow").strength_kept_ci95)[0]);
}

TEST_CASE("Stray light from neighbours that changed widens the interval") {
  SheetPlan plan;
  plan.recto = {{{25, 15, 4, 4}, "cyan", 2},
                {{10, 2, 40, 12.5}, "black", 4},
                {{10, 19.5, 40, 15}, "black", 4}};
  PaintedSheet same(plan);
  plan.stages[1].kept["black"] = 0.1;
  PaintedSheet faded(plan);
  std::list<scanner::Correction> unknown;  // κ is 0, but may be that of a usual scanner
  for (PaintedSheet* sheet : {&same, &faded}) {
    sheet->add_region(Side::recto, "cyan", Role::ink, {25.5, 15.5, 3, 3});
    const grid::Geometry& geometry = sheet->recto.geometry;
    for (change::Layer& layer : sheet->recto.layers) {
      cv::Mat light = layer.light.clone();
      cv::patchNaNs(light, 0.5);
      unknown.emplace_back(
          scanner::coarse_light({light, geometry.pitch_mm, geometry.pitch_px, geometry.origin_px}),
          scanner::StrayLightEstimate{{0, 4}, 0.26, 0, 0});
      layer.pixels.geometry = geometry;
      layer.pixels.stray_light = &unknown.back();
    }
  }
  const change::SideOutput alone = change::assess_side(same.recto, nullptr),
                           beside = change::assess_side(faded.recto, nullptr);
  CHECK((*change_of(beside, "cyan").dE00_ci95)[1] > 3 * (*change_of(alone, "cyan").dE00_ci95)[1]);
}
