#include "tests/report/demo_results.hpp"

#include <limits>

#include <fmt/core.h>
#include <opencv2/imgproc.hpp>

#include "map/picture.hpp"

namespace inkwane::test {
namespace {

constexpr double kPitch = 0.25;  // mm
constexpr int kWidth = 800, kHeight = 1088;
constexpr float kNone = std::numeric_limits<float>::quiet_NaN();
const cv::Rect kSheet(20, 20, kWidth - 40, kHeight - 40);

const cv::Scalar kPaper(238, 229, 206), kBacking(24, 24, 26);

struct Blot {
  cv::Point centre;
  cv::Size radii;
  cv::Scalar colour;
  double turn;
};

const std::vector<Blot>& petals() {
  static const std::vector<Blot> blots = [] {
    std::vector<Blot> all;
    for (const cv::Point flower : {cv::Point(270, 420), cv::Point(500, 330), cv::Point(430, 610)})
      for (int i = 0; i < 7; ++i) {
        const double angle = i * 2 * CV_PI / 7;
        all.push_back({flower + cv::Point(int(70 * cos(angle)), int(70 * sin(angle))),
                       {58, 34},
                       {196, 52 + 6.0 * i, 58},
                       angle * 180 / CV_PI});
      }
    return all;
  }();
  return blots;
}

/// `left`: share of the added colour that is still there; `kept`: of the red ink.
cv::Mat recto(double kept, double left) {
  cv::Mat page(kHeight, kWidth, CV_8UC3, kBacking);
  page(kSheet).setTo(kPaper);
  const auto mixed = [](const cv::Scalar& colour, double share) {
    return colour * share + kPaper * (1 - share);
  };
  cv::rectangle(page, {60, 60}, {kWidth - 60, kHeight - 60}, cv::Scalar(70, 62, 58), 2,
                cv::LINE_AA);
  cv::putText(page, "MARLOW VALE", {130, 160}, cv::FONT_HERSHEY_TRIPLEX, 2.2, {60, 54, 52}, 3,
              cv::LINE_AA);
  cv::putText(page, "Dahlias  1931", {230, 215}, cv::FONT_HERSHEY_COMPLEX, 1.3, {60, 54, 52}, 2,
              cv::LINE_AA);
  for (const cv::Point leaf :
       {cv::Point(180, 560), cv::Point(600, 470), cv::Point(560, 700), cv::Point(280, 720)})
    cv::ellipse(page, leaf, {85, 30}, leaf.x % 70, 0, 360, cv::Scalar(84, 122, 62), cv::FILLED,
                cv::LINE_AA);
  for (const Blot& petal : petals())
    cv::ellipse(page, petal.centre, petal.radii, petal.turn, 0, 360, mixed(petal.colour, kept),
                cv::FILLED, cv::LINE_AA);
  for (int line = 0; line < 9; ++line)
    cv::line(page, {110, 840 + 18 * line}, {kWidth - 110 - 40 * (line % 3), 840 + 18 * line},
             cv::Scalar(92, 84, 78), 4, cv::LINE_AA);
  cv::ellipse(page, {640, 260}, {70, 26}, 20, 0, 360, mixed({92, 60, 140}, left), cv::FILLED,
              cv::LINE_AA);
  cv::line(page, {120, 790}, {400, 770}, mixed({40, 60, 150}, left), 12, cv::LINE_AA);
  cv::GaussianBlur(page, page, {}, 1.0);
  return page;
}

cv::Mat verso(double bleed) {
  cv::Mat page(kHeight, kWidth, CV_8UC3, kBacking);
  page(kSheet).setTo(kPaper - cv::Scalar(3, 3, 5));
  for (int line = 0; line < 42; ++line)
    cv::line(page, {100, 110 + 21 * line}, {kWidth - 100 - 70 * (line % 4 == 3), 110 + 21 * line},
             cv::Scalar(100, 94, 88), 4, cv::LINE_AA);
  cv::Mat through = page.clone();
  for (const Blot& petal : petals())
    cv::ellipse(through, {kWidth - petal.centre.x, petal.centre.y}, petal.radii, -petal.turn, 0,
                360, petal.colour, cv::FILLED, cv::LINE_AA);
  cv::GaussianBlur(through, through, {}, 7);
  cv::addWeighted(page, 1 - bleed, through, bleed, 0, page);
  return page;
}

cv::Mat smooth_noise(int seed, double reach, double amount) {
  cv::Mat noise(kHeight, kWidth, CV_32FC1);
  cv::RNG random(static_cast<std::uint64_t>(seed));
  random.fill(noise, cv::RNG::NORMAL, 0, 1);
  cv::GaussianBlur(noise, noise, {}, reach);
  cv::Scalar mean, deviation;
  cv::meanStdDev(noise, mean, deviation);
  return noise * (amount / deviation[0]);
}

cv::Mat only_in(const cv::Mat& values, const cv::Mat& mask) {
  cv::Mat result(values.size(), CV_32FC1, cv::Scalar(kNone));
  values.copyTo(result, mask);
  return result;
}

cv::Mat map_values(const std::string& kind, Side side) {
  cv::Mat sheet(kHeight, kWidth, CV_8UC1, cv::Scalar(0));
  sheet(kSheet).setTo(255);
  cv::circle(sheet, {690, 960}, 18, 0, cv::FILLED);  // clipped
  cv::Mat flowers(kHeight, kWidth, CV_8UC1, cv::Scalar(0)), added = flowers.clone();
  for (const Blot& petal : petals())
    cv::ellipse(flowers, petal.centre, petal.radii, petal.turn, 0, 360, 255, cv::FILLED);
  cv::ellipse(added, {640, 260}, {70, 26}, 20, 0, 360, 255, cv::FILLED);
  cv::line(added, {120, 790}, {400, 770}, 255, 12);
  cv::Mat shape;
  flowers.convertTo(shape, CV_32F, 1 / 255.0);
  cv::Mat spot;
  added.convertTo(spot, CV_32F, 1 / 255.0);
  if (side == Side::verso) {
    cv::flip(shape, shape, 1);
    cv::GaussianBlur(shape, shape, {}, 9);
    if (kind == "lost-ink")
      return only_in(smooth_noise(5, 20, 0.03), sheet & (smooth_noise(6, 3, 1) > 1.4));
    return only_in(cv::abs(shape * 5.5 + smooth_noise(4, 25, 0.5)), sheet);
  }
  const cv::Mat noise = smooth_noise(1, 30, 1);
  if (kind == "lost-ink") return only_in(noise * 0.09 + 0.19, sheet & flowers);
  if (kind == "residual-added") return only_in(noise * 0.06 + 0.14, sheet & added);
  if (kind == "gained-colour") {
    cv::Mat halo;
    cv::GaussianBlur(spot, halo, {}, 14);
    return only_in(cv::abs((halo - spot * 0.8) * 9 + noise * 0.3), sheet);
  }
  return only_in(cv::abs(shape * 3.8 + spot * 14 + noise * 0.5 + 0.5), sheet);
}

results::RegionStage measured(LabD50 lab) {
  return {lab, {0.38, 0.31, 0.44}};
}

struct Row {
  const char *id, *name;
  Side side;
  Role role;
  double area;
  LabD50 before, after;
  double ratio;  // strength kept or residual
  double contrast;
};

results::Region region(const Row& row) {
  results::Region found;
  found.id = row.id;
  found.name = row.name;
  found.side = row.side;
  found.role = row.role;
  found.area_mm2 = row.area;
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
          {stage, side, fmt::format("images/{}-{}.jpg", stage, to_string(side))});
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
       51.2},
      {"petals-right",
       "red of the right dahlia",
       recto,
       ink,
       798.9,
       {46.5, 51.8, 28.0},
       {49.1, 47.2, 26.0},
       0.87,
       50.4},
      {"leaf",
       "green of the leaves",
       recto,
       ink,
       455.0,
       {47.7, -18.8, 25.2},
       {48.0, -18.5, 25.0},
       0.99,
       44.0},
      {"title",
       "black of the title",
       recto,
       ink,
       96.2,
       {23.5, 2.1, 3.0},
       {23.8, 2.0, 3.1},
       0.98,
       63.7},
      {"felt-tip",
       "violet felt-tip",
       recto,
       added,
       341.7,
       {36.0, 28.4, -34.9},
       {84.6, 3.6, 6.1},
       0.07,
       6.9},
      {"crayon",
       "blue wax crayon",
       recto,
       added,
       208.3,
       {33.2, 18.0, -48.8},
       {74.9, 4.9, -7.4},
       0.21,
       17.3},
      {"margin",
       "bare paper, upper margin",
       recto,
       paper,
       1240.0,
       {91.0, -0.4, 12.3},
       {92.4, -0.7, 9.6},
       0,
       0.3},
      {"foot",
       "foot of the page",
       recto,
       watch,
       660.0,
       {90.1, 0.2, 13.4},
       {90.6, 0.0, 12.9},
       0,
       1.1},
      {"behind-dahlia",
       "behind the left dahlia",
       verso,
       watch,
       812.4,
       {88.2, 1.0, 12.6},
       {84.1, 8.8, 12.0},
       0,
       7.6},
      {"verso-paper",
       "bare paper, verso",
       verso,
       paper,
       1015.5,
       {90.4, -0.3, 12.0},
       {90.5, -0.3, 11.9},
       0,
       0.2},
  };
  for (const Row& row : rows) results.regions.push_back(region(row));
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
                              {0, 0}});
    }
  return results;
}

void draw_demo(const std::filesystem::path& folder, const results::Results& results) {
  std::filesystem::create_directories(folder / "images");
  std::filesystem::create_directories(folder / "maps");
  const auto page = [](Side side, bool before) {
    if (side == Side::verso) return verso(before ? 0.04 : 0.16);
    return recto(before ? 1 : 0.84, before ? 1 : 0.12);
  };
  for (const results::Image& image : results.images)
    map::write_jpeg(folder / image.file, page(image.side, image.stage == "BT"), 1200);
  const grid::Geometry geometry{kPitch, 2.95, {0, 0}, kWidth, kHeight};
  for (const results::Map& entry : results.maps) {
    if (entry.png.empty()) continue;
    map::write_png(folder / entry.png, map_values(entry.kind, entry.side), page(entry.side, true),
                   geometry, map::style_of(entry.kind),
                   {results.object.title,
                    fmt::format("{}, {} → {}", to_string(entry.side), entry.from, entry.to),
                    results.calibrated});
  }
}

}  // namespace inkwane::test
