#include "tests/report/demo_results.hpp"

#include <algorithm>
#include <limits>

#include <fmt/core.h>
#include <opencv2/imgproc.hpp>

#include "colour/grey_scale.hpp"

namespace inkwane::test {
namespace {

results::RegionStage measured(LabD50 lab) {
  return {lab, {0.38, 0.31, 0.44}};
}

const results::Frame kFrame{kDemoWidth, kDemoHeight, {0, 0}, 2.95, kDemoPitchMm};

std::vector<Point> outline(const cv::Rect& cells) {
  std::vector<Point> corners;
  for (const cv::Point p :
       {cells.tl(), cv::Point(cells.br().x, cells.y), cells.br(), cv::Point(cells.x, cells.br().y)})
    corners.push_back({kFrame.pitch_px * p.x, kFrame.pitch_px * p.y});
  return corners;
}

struct Row {
  const char *id, *name;
  Side side;
  Role role;
  double area;
  LabD50 before, after;
  double ratio;  // strength kept or residual
  double contrast;
  cv::Rect cells;
};

results::Region region(const Row& row) {
  results::Region found;
  found.id = row.id;
  found.name = row.name;
  found.side = row.side;
  found.role = row.role;
  found.area_mm2 = row.area;
  found.polygon = outline(row.cells);
  if (row.role == Role::added) found.under = "paper";
  found.stages = {{"BT", measured(row.before)}, {"AT", measured(row.after)}};
  results::RegionChange change;
  change.from = "BT";
  change.to = "AT";
  const double difference = ciede2000(row.before, row.after);
  change.detectable = difference > 0.5;
  change.dE00 = difference;
  change.dE00_ci95 = {{*change.detectable ? difference - 0.35 : 0, difference + 0.4}};
  change.dL = row.after.L - row.before.L;
  change.da = row.after.a - row.before.a;
  change.db = row.after.b - row.before.b;
  change.dC = chroma(row.after) - chroma(row.before);
  change.dH = delta_hue(row.before, row.after);
  change.grey_scale = row.role == Role::watch ? colour::grade_of_staining(row.before, row.after)
                                              : colour::grade_of_change(row.before, row.after);
  if (row.role == Role::ink) {
    change.strength_kept = row.ratio;
    change.strength_kept_ci95 = {{row.ratio - 0.05, row.ratio + 0.04}};
  }
  if (row.role == Role::added) {
    change.residual = row.ratio;
    change.residual_ci95 = {{std::max(0.0, row.ratio - 0.04), row.ratio + 0.06}};
  }
  change.contrast_dE00 = row.contrast;
  found.changes = {change};
  return found;
}

results::Scan scan(const std::string& stage, Side side) {
  results::Scan found;
  found.stage = stage;
  found.side = side;
  found.file = fmt::format("scans/{}-{}.tif", stage == "BT" ? "bt" : "at", to_string(side));
  found.sha256 = "9f2c1c0de0b5b1a6a4d7c6c5be0f2f3cf0a1d3e45b6978a0c1d2e3f405162738";
  found.width_px = 3071;
  found.height_px = 3307;
  found.bit_depth = 16;
  found.resolution_dpi = 300;
  found.profile = "Reading room flatbed, reflective";
  results::Target target;
  target.model = "root-polynomial of degree 3 with tone curves";
  target.left_out_dE00_median = 0.56;
  target.left_out_dE00_p95 = 1.43;
  target.left_out_dE00_max = 2.02;
  found.target = target;
  if (stage == "AT") found.registration = {"BT", 0.012, 0.041, 1.0021, 1.0064};
  return found;
}

cv::Rect crop_cells(const results::Region& region) {
  const auto cell = [](double px) { return cvRound(px / kFrame.pitch_px); };
  const Point &low = region.polygon[0], &high = region.polygon[2];
  return cv::Rect(cell(low.x) - 40, cell(low.y) - 40, cell(high.x - low.x) + 80,
                  cell(high.y - low.y) + 80) &
         cv::Rect(0, 0, kDemoWidth, kDemoHeight);
}

results::Frame crop_frame(const results::Region& region) {
  const cv::Rect cells = crop_cells(region);
  return {cells.width,
          cells.height,
          {kFrame.pitch_px * cells.x, kFrame.pitch_px * cells.y},
          kFrame.pitch_px,
          kDemoPitchMm};
}

results::Frame readout_frame() {
  return {kDemoWidth / 2,
          kDemoHeight / 2,
          {kFrame.pitch_px / 2, kFrame.pitch_px / 2},
          2 * kFrame.pitch_px,
          2 * kDemoPitchMm};
}

results::Findings findings() {
  using namespace results;
  Findings found;
  found.still_shows = {{"AT",
                        "crayon",
                        {Side::recto, {62, 190}, outline({150, 765, 60, 30}), 14.2},
                        {74.9, 4.9, -7.4},
                        {92.4, -0.7, 9.6},
                        17.3,
                        0.21}};
  found.tidelines = {{"BT",
                      "AT",
                      Side::recto,
                      {{500, 2900}, {900, 2940}, {1300, 2880}},
                      {120, 240},
                      42,
                      1.2,
                      3.1}};
  Suspect suspect;
  suspect.id = "suspect-1";
  suspect.place = {Side::recto, {88, 75}, outline({330, 300, 40, 30}), 9.5};
  suspect.lab = {52, 40, 12};
  suspect.score = 0.82;
  suspect.reason = "It faded four times as much as the same red elsewhere on the sheet.";
  suspect.under = "paper";
  suspect.from = "BT";
  suspect.to = "AT";
  found.suspects = {suspect};
  found.inks = {{"dark red",
                 Side::recto,
                 {46, 52, 28},
                 1610,
                 {{"BT", "AT", 0.85, {{0.80, 0.90}}, {70, 105}, 0.71}}}};
  found.blotters = {{"blotter-1",
                     "AT",
                     "scans/blotter-1.tif",
                     "ab12",
                     {80, 20, -8},
                     {95, 0, 2},
                     38,
                     4.2,
                     {{3.6, 4.9}},
                     {{"felt-tip", "violet felt-tip", Role::added, 0.86, {{0.74, 0.97}}}},
                     0.09,
                     false,
                     "It lifted violet felt-tip, and no printing ink that could be told.",
                     {}}};
  for (const char* what : {"still_shows", "tidelines", "suspects", "bleed_through"})
    found.limits.push_back({what, Side::recto, "BT", "AT", 2.4, 1.5, 0});
  return found;
}

results::Course course() {
  using namespace results;
  Course course;
  CoursePoint before, after;
  before.stage = "BT";
  before.minutes = 0;
  before.removed = before.lost = Estimate{0, {0, 0}};
  after.stage = "AT";
  after.minutes = 285;
  after.dose_j_per_cm2 = 72;
  after.removed = Estimate{0.87, {0.83, 0.91}};
  after.lost = Estimate{0.12, {0.09, 0.16}};
  course.points = {before, after};
  Decay crayon;
  crayon.region = "crayon";
  crayon.against = "minutes";
  crayon.note = "Two stages are too few to tell a rate from a floor.";
  course.decays = {crayon};
  course.last_step.emplace();
  course.last_step->from = "BT";
  course.last_step->to = "AT";
  course.last_step->removed = after.removed;
  course.last_step->lost = after.lost;
  course.forecast.emplace();
  course.forecast->like_from = "BT";
  course.forecast->like_to = "AT";
  course.forecast->note = "No forecast: one step alone does not tell how the next would go.";
  course.advice = Advice{"cannot tell", "Two stages do not tell how the gain falls off.", {}};
  return course;
}

}  // namespace

results::Results demo_results() {
  results::Results results;
  results.version = "0.1.0";
  results.object = {
      "Marlow Vale Nurseries, Dahlias and Spring Bulbs, 1931: plate 7",
      "MVN-1931-07",
      "Private collection",
      "Colour-printed plate from a seed catalogue, wood-pulp paper. Felt-tip and wax "
      "crayon were added by an earlier owner in the upper right and below the flowers.",
      190.0,
      262.0,
      Turn::side,
      "Unnamed colour printer",
      "Marlow Vale Nurseries",
      "Stamp on the verso"};
  Stage before;
  before.id = "BT";
  before.date = "2026-03-02";
  before.note = "Dry, flat, faint tideline at the lower edge.";
  Stage after;
  after.id = "AT";
  after.date = "2026-03-19";
  after.note = "Dried between blotters for six days.";
  after.steps = {{"bath",
                  {{"solution", "calcium hydroxide"},
                   {"stock_g_per_l", 1.6},
                   {"stock_ml", 100.0},
                   {"tray_ml", 400.0},
                   {"ph_in", 11.9},
                   {"minutes", 45.0}}},
                 {"blotting", {{"places", "upper right"}, {"dwell_minutes", 10.0}}},
                 {"light", {{"peak_nm", 455.0}, {"w_per_m2", 50.0}, {"minutes", 240.0}}},
                 {"rinse", {}}};
  results.stages = {before, after};
  results.calibrated = true;
  results.sheet = {Turn::side, Turn::side, 0.14};
  for (const char* stage : {"BT", "AT"})
    for (const Side side : kSides) {
      results.scans.push_back(scan(stage, side));
      results.images.push_back(
          {stage, side, fmt::format("images/{}-{}.jpg", stage, to_string(side)), kFrame});
    }
  results.warnings = {
      "Nothing tells the stray light of this scanner: the intervals are widened by a "
      "typical amount."};
  const std::string eight_bit =
      "The scan has 8 bits a channel: steps of tone in the darks are coarser than its noise.";
  results.scans[0].warnings = {eight_bit};
  results.scans[1].warnings = {eight_bit};
  results.scans[0].bit_depth = results.scans[1].bit_depth = 8;

  using enum Role;
  using enum Side;
  const Row rows[] = {
      {"petals-left",
       "red of the left dahlia",
       recto,
       ink,
       812.4,
       {46.2, 52.1, 28.4},
       {49.8, 46.0, 25.1},
       0.83,
       51.2,
       {190, 340, 160, 160}},
      {"petals-right",
       "red of the right dahlia",
       recto,
       ink,
       798.9,
       {46.5, 51.8, 28.0},
       {49.1, 47.2, 26.0},
       0.87,
       50.4,
       {420, 250, 160, 160}},
      {"leaf",
       "green of the leaves",
       recto,
       ink,
       455.0,
       {47.7, -18.8, 25.2},
       {48.0, -18.5, 25.0},
       0.99,
       44.0,
       {110, 530, 140, 60}},
      {"title",
       "black of the title",
       recto,
       ink,
       96.2,
       {23.5, 2.1, 3.0},
       {23.8, 2.0, 3.1},
       0.98,
       63.7,
       {125, 110, 480, 60}},
      {"felt-tip",
       "violet felt-tip",
       recto,
       added,
       341.7,
       {36.0, 28.4, -34.9},
       {84.6, 3.6, 6.1},
       0.07,
       6.9,
       {570, 225, 140, 70}},
      {"crayon",
       "blue wax crayon",
       recto,
       added,
       208.3,
       {33.2, 18.0, -48.8},
       {74.9, 4.9, -7.4},
       0.21,
       17.3,
       {115, 760, 290, 40}},
      {"margin",
       "bare paper, upper margin",
       recto,
       paper,
       1240.0,
       {91.0, -0.4, 12.3},
       {92.4, -0.7, 9.6},
       0,
       0.3,
       {100, 68, 600, 26}},
      {"foot",
       "foot of the page",
       recto,
       watch,
       660.0,
       {90.1, 0.2, 13.4},
       {90.6, 0.0, 12.9},
       0,
       1.1,
       {110, 1005, 560, 40}},
      {"behind-dahlia",
       "behind the left dahlia",
       verso,
       watch,
       812.4,
       {88.2, 1.0, 12.6},
       {84.1, 8.8, 12.0},
       0,
       7.6,
       {450, 340, 160, 160}},
      {"verso-paper",
       "bare paper, verso",
       verso,
       paper,
       1015.5,
       {90.4, -0.3, 12.0},
       {90.5, -0.3, 11.9},
       0,
       0.2,
       {100, 60, 600, 30}},
  };
  for (const Row& row : rows) results.regions.push_back(region(row));
  results.regions.back().untouched = true;
  results.regions[3].changes[0].strength_kept.reset();
  results.regions[3].changes[0].strength_kept_ci95.reset();
  results.regions[3].changes[0].warnings = {
      "The strength kept could not be had: the lines are thinner than the aperture."};
  results.regions[5].warnings = {
      "The region is darker in blue than any patch of the target: its colour is extrapolated."};

  results::SideChange front;
  front.from = "BT";
  front.to = "AT";
  front.sheet_mm2 = 49718;
  front.lost_ink = {1904.2, 0.0383, 0.86};
  front.gained_colour = {57.3, 0.0012, 2.6};
  results::SideChange back = front;
  back.lost_ink = {12.0, 0.0002, 0.99};
  back.gained_colour = {2277.0, 0.0458, 4.1};
  back.bleed_through = results::BleedThrough{
      {2204.0, 0.0443, 4.2}, {}, {{{46.2, 52.1, 28.4}, 0.81}, {{36.0, 28.4, -34.9}, 0.09}}};
  back.warnings = {
      "Part of the gain on the verso follows no print of the recto: a stain or a tideline."};
  results.sides[recto].changes = {front};
  results.sides[verso].changes = {back};
  for (const Side side : kSides)
    for (const std::string kind : {"difference", "lost-ink", "gained-colour", "residual-added",
                                   "bleed-through", "position"}) {
      if (kind == "bleed-through" && side == recto) continue;
      if (kind == "residual-added" && side == verso) continue;
      const std::string stem = fmt::format("maps/{}-{}-BT-AT", kind, to_string(side));
      results.maps.push_back({kind,
                              side,
                              "BT",
                              "AT",
                              kind == "position" ? "" : stem + ".png",
                              stem + ".tif",
                              "ΔE00",
                              2.95,
                              {0, 0},
                              kind == "position" ? "" : stem + "-plain.png",
                              kind == "position" ? "" : stem + "-overlay.png"});
    }
  for (const results::Region& region : results.regions) {
    for (const char* stage : {"BT", "AT"})
      results.crops.push_back({region.id, stage, "", "", "",
                               fmt::format("crops/{}-{}.jpg", region.id, stage),
                               crop_frame(region)});
    results.crops.push_back({region.id, "", "difference", "BT", "AT",
                             fmt::format("crops/{}-map.png", region.id), crop_frame(region)});
  }
  for (const Side side : kSides)
    results.readouts.push_back(
        {side, "BT", "AT", fmt::format("readout/{}.bin", to_string(side)), readout_frame()});
  results.record = {"The conservator",
                    "To take off colour added later.",
                    "Faint tideline below.",
                    "None known.",
                    "Bath, light, rinse.",
                    "The owner",
                    "2026-03-01",
                    ""};
  results.spot_tests = {{"red of the left dahlia", "calcium hydroxide 0.4 g/L", "petals-left", "",
                         11.9, 15.0, "no change", "faint pink", "2026-03-01", "", ""}};
  results.treatment_sha256 = "5e1f";
  results.repeatability = results::Repeatability{"repeat scans", 0.07, 6, {}};
  results.stray_light = {results::StrayLight::Source::card, "scanner.toml", 0.26, 0.03, 4, 0.7};
  results.regions_stamp = {"c0ffee", "2026-03-02T09:30:00Z", {}};
  results.findings = findings();
  results.course = course();
  return results;
}

}  // namespace inkwane::test
