// A small but full results record.
#pragma once

#include <inkwane/results.hpp>

inline inkwane::results::Results sample_results() {
  using namespace inkwane;
  using namespace inkwane::results;
  Results r;
  r.version = "0.1.0";
  r.object.title = "Catalogue, \"spring\"";
  r.object.width_mm = 190;
  Stage bt, at;
  bt.id = "BT";
  at.id = "AT";
  at.kind = "after";
  at.dried = "2026-03-08";
  at.condition = Condition::damp;
  at.steps.push_back({"bath", {{"solution", "calcium hydroxide"}, {"minutes", 45.0}}});
  at.steps.push_back({"light", {{"w_per_m2", 50.0}, {"minutes", 240.0}}});
  r.object.owner = "Marlow Vale Nurseries";
  r.record.purpose = "To take off colour added later.";
  r.spot_tests = {
      {"red", "calcium hydroxide", "petals", "", 11.9, 15.0, "no change", "", "", "", ""}};
  r.stages = {bt, at};
  r.calibrated = true;
  r.stray_light = {StrayLight::Source::card, "scanner.toml", 0.26, 0.03, 4.1, 0.7};
  r.doubtful = true;
  r.warnings = {"One thing is doubtful."};
  r.sheet = {Turn::top, Turn::side, 0.25};
  r.repeatability = Repeatability{"repeat scans", 0.05, 6, {{"a.tif", "0a"}}};
  r.regions_stamp = {"00ff", "2026-03-02T09:30:00Z", {{"ff00", "2026-03-01T09:30:00Z"}}};
  results::Scan scan;
  scan.repeat = 2;
  scan.stage = "AT";
  scan.side = Side::verso;
  scan.file = "scans/at-verso.tif";
  scan.sha256 = "00ff";
  scan.width_px = 10;
  scan.height_px = 20;
  scan.bit_depth = 16;
  scan.resolution_dpi = 300;
  scan.profile = "none";
  scan.target = results::Target{{{{1, 2}, {3, 4}, {5, 6}, {7, 8}}},
                                "linear",
                                {{"A1", {50, 1, 2}, {50.5, 1, 2}, 0.4}},
                                0.4,
                                0.9,
                                1.2};
  scan.registration = Registration{"BT", 0.01, std::nullopt, 1.002, 0.999};
  scan.warnings = {"8 bit."};
  r.scans = {scan};
  results::Region region;
  region.id = "petals";
  region.name = "red, of the \"petals\"";
  region.untouched = true;
  region.area_mm2 = 12.5;
  region.under = "paper";
  region.polygon = {{1, 2}, {30.5, 2}, {30, 40}};
  region.screens = {{85.2, 44.5, 0.31}, {84.9, 14.5, std::nullopt}};
  region.stages = {{"BT", {{50, 60, 30}, {0.3, 0.4, 0.5}}},
                   {"AT", {{55, 50, 25}, {0.3, 0.4, 0.5}}}};
  RegionChange change;
  change.from = "BT";
  change.to = "AT";
  change.dE00 = 6.5;
  change.dE00_ci95 = {{6.0, 7.0}};
  change.detectable = true;
  change.strength_kept = 1.02;
  change.grey_scale = 2.25;
  change.warnings = {"Thin."};
  region.changes = {change};
  r.regions = {region};
  SideChange side;
  side.from = "BT";
  side.to = "AT";
  side.sheet_mm2 = 1000;
  side.lost_ink = {10, 0.01, 0.9};
  side.gained_colour = {5, 0.005, 2.5};
  side.bleed_through = BleedThrough{{7, 0.007, std::nullopt}, {}, {{{50, 60, 30}, 0.8}}};
  r.sides[Side::verso].changes = {side};
  r.maps = {
      {"position", Side::verso, "BT", "AT", "", "maps/p.tif", "px", 1.1811, {0.09, 0.09}, "", ""}};
  r.maps.push_back({"difference",
                    Side::verso,
                    "BT",
                    "AT",
                    "maps/d.png",
                    "maps/d.tif",
                    "ΔE00",
                    1.1811,
                    {0.09, 0.09},
                    "maps/d-plain.png",
                    "maps/d-overlay.png"});
  const Frame frame{100, 130, {12.5, -3.25}, 2.4, 0.2};
  r.images = {{"BT", Side::verso, "images/bt-verso.jpg", frame}};
  r.crops = {{"petals", "BT", "", "", "", "crops/region-1-bt.jpg", frame},
             {"petals", "", "lost-ink", "BT", "AT", "crops/region-1-map.png", frame}};
  r.readouts = {{Side::verso, "BT", "AT", "readout/verso.bin", frame}};
  const Place place{Side::verso, {12, 34}, {{1, 2}, {3, 4}, {5, 2}}, 2.5};
  r.findings.still_shows = {{"AT", "petals", place, {50, 60, 30}, {87, 2, 12}, 21, 0.2}};
  r.findings.tidelines = {{"BT", "AT", Side::recto, {{1, 2}, {3, 4}}, {5, 6}, 31, 1.2, 2.5}};
  r.findings.suspects = {
      {"suspect-1", place, {50, 60, 30}, 0.8, "It is \"odd\", here.", "paper", "", ""}};
  r.findings.inks = {
      {"dark red", Side::recto, {40, 50, 30}, 120, {{"BT", "AT", 0.8, {{0.7, 0.9}}, {7, 8}, 0.5}}}};
  Blotter blotter;
  blotter.id = "blot";
  blotter.stage = "AT";
  blotter.matches = {{"petals", "red", Role::ink, 0.3, {{0.1, 0.5}}}};
  blotter.unexplained = 0.1;
  blotter.took_original = true;
  blotter.sentence = "It took original ink.";
  r.findings.blotters = {blotter};
  r.findings.pictures = {{Side::verso, "maps/verso-suspects.png"}};
  r.findings.limits = {{"tidelines", Side::recto, "BT", "AT", 1.5, 0, 10}};
  Course course;
  course.points = {
      {"BT", 0, std::nullopt, Estimate{}, Estimate{}, true, {}},
      {"AT", 45, std::nullopt, Estimate{0.6, {0.5, 0.7}}, std::nullopt, false, {"Damp."}}};
  course.weights = {{"petals", Role::ink, 1}};
  course.decays = {{"petals", Role::ink, "minutes", std::nullopt, Estimate{0.2, {0.1, 0.3}}, 0.7,
                    "Too little went."}};
  course.last_step =
      LastStep{"BT", "AT", 45, std::nullopt, Estimate{0.6, {0.5, 0.7}}, std::nullopt};
  course.forecast = Forecast{"BT",
                             "AT",
                             Estimate{0.7, {0.6, 0.8}},
                             std::nullopt,
                             Estimate{0.1, {0, 0.2}},
                             std::nullopt,
                             "It rests on little."};
  course.advice = Advice{"cannot tell", "It is too early.", {"A threshold."}};
  course.warnings = {"One region was left out."};
  course.cautions = {"Advice only."};
  r.course = course;
  return r;
}
