#include <algorithm>
#include <limits>

#include <fmt/core.h>
#include <opencv2/imgproc.hpp>

#include "map/picture.hpp"
#include "tests/report/demo_results.hpp"
#include "tests/support.hpp"

namespace inkwane::test {
namespace {

constexpr float kNone = std::numeric_limits<float>::quiet_NaN();
const cv::Rect kSheet(20, 20, kDemoWidth - 40, kDemoHeight - 40);

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
  cv::Mat page(kDemoHeight, kDemoWidth, CV_8UC3, kBacking);
  page(kSheet).setTo(kPaper);
  const auto mixed = [](const cv::Scalar& colour, double share) {
    return colour * share + kPaper * (1 - share);
  };
  cv::rectangle(page, {60, 60}, {kDemoWidth - 60, kDemoHeight - 60}, cv::Scalar(70, 62, 58), 2,
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
    cv::line(page, {110, 840 + 18 * line}, {kDemoWidth - 110 - 40 * (line % 3), 840 + 18 * line},
             cv::Scalar(92, 84, 78), 4, cv::LINE_AA);
  cv::ellipse(page, {640, 260}, {70, 26}, 20, 0, 360, mixed({92, 60, 140}, left), cv::FILLED,
              cv::LINE_AA);
  cv::line(page, {120, 790}, {400, 770}, mixed({40, 60, 150}, left), 12, cv::LINE_AA);
  cv::GaussianBlur(page, page, {}, 1.0);
  return page;
}

cv::Mat verso(double bleed) {
  cv::Mat page(kDemoHeight, kDemoWidth, CV_8UC3, kBacking);
  page(kSheet).setTo(kPaper - cv::Scalar(3, 3, 5));
  for (int line = 0; line < 42; ++line)
    cv::line(page, {100, 110 + 21 * line},
             {kDemoWidth - 100 - 70 * (line % 4 == 3), 110 + 21 * line}, cv::Scalar(100, 94, 88), 4,
             cv::LINE_AA);
  cv::Mat through = page.clone();
  for (const Blot& petal : petals())
    cv::ellipse(through, {kDemoWidth - petal.centre.x, petal.centre.y}, petal.radii, -petal.turn, 0,
                360, petal.colour, cv::FILLED, cv::LINE_AA);
  cv::GaussianBlur(through, through, {}, 7);
  cv::addWeighted(page, 1 - bleed, through, bleed, 0, page);
  return page;
}

cv::Mat smooth_noise(int seed, double reach, double amount) {
  cv::Mat noise(kDemoHeight, kDemoWidth, CV_32FC1);
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
  cv::Mat sheet(kDemoHeight, kDemoWidth, CV_8UC1, cv::Scalar(0));
  sheet(kSheet).setTo(255);
  cv::circle(sheet, {690, 960}, 18, 0, cv::FILLED);  // clipped
  cv::Mat flowers(kDemoHeight, kDemoWidth, CV_8UC1, cv::Scalar(0)), added = flowers.clone();
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

/// The part of the drawn pictures that a crop shows.
cv::Rect cells_of(const results::Frame& crop) {
  return {cvRound(crop.origin_px.x / crop.pitch_px), cvRound(crop.origin_px.y / crop.pitch_px),
          crop.columns, crop.rows};
}

/// A read-out's plane of one value, with a place in the top left corner that was not measured.
cv::Mat plane(const cv::Scalar& value, const results::Frame& frame) {
  cv::Mat all(frame.rows, frame.columns, CV_32FC3, value);
  all(cv::Rect(0, 0, 20, 20)).setTo(cv::Scalar::all(static_cast<double>(kNone)));
  return all;
}

}  // namespace

void draw_demo(const std::filesystem::path& folder, const results::Results& results) {
  std::filesystem::create_directories(folder / "images");
  for (const char* name : {"maps", "crops", "readout"})
    std::filesystem::create_directories(folder / name);
  const auto page = [](Side side, bool before) {
    if (side == Side::verso) return verso(before ? 0.04 : 0.16);
    return recto(before ? 1 : 0.84, before ? 1 : 0.12);
  };
  for (const results::Image& image : results.images)
    map::write_jpeg(folder / image.file, page(image.side, image.stage == "BT"), 1200);
  const grid::Geometry geometry{kDemoPitchMm, 2.95, {0, 0}, kDemoWidth, kDemoHeight};
  for (const results::Map& entry : results.maps) {
    if (entry.png.empty()) continue;
    const cv::Mat values = map_values(entry.kind, entry.side);
    map::write_plain(folder / entry.plain, values, page(entry.side, true),
                     map::style_of(entry.kind), 1100);
    map::write_overlay(folder / entry.overlay, values, map::style_of(entry.kind), 1100);
    map::write_png(folder / entry.png, map_values(entry.kind, entry.side), page(entry.side, true),
                   geometry, map::style_of(entry.kind),
                   {results.object.title,
                    fmt::format("{}, {} → {}", to_string(entry.side), entry.from, entry.to),
                    results.calibrated});
  }
  for (const results::Crop& crop : results.crops) {
    const auto region = std::find_if(results.regions.begin(), results.regions.end(),
                                     [&](const auto& r) { return r.id == crop.region; });
    const cv::Rect cells = cells_of(crop.frame);
    if (crop.stage.empty())
      map::write_plain(folder / crop.file, map_values(crop.map_kind, region->side)(cells),
                       page(region->side, true)(cells), map::style_of(crop.map_kind), 560);
    else
      map::write_jpeg(folder / crop.file, page(region->side, crop.stage == "BT")(cells).clone(),
                      560);
  }
  for (const results::Readout& readout : results.readouts)
    map::write_readout(folder / readout.file, plane({46.2, 52.1, -28.4}, readout.frame),
                       plane({49.8, 46.0, 25.1}, readout.frame),
                       plane({4.1, 3.7, 4.4}, readout.frame));
}

const std::filesystem::path& drawn_demo() {
  static const TemporaryFolder folder;
  static const bool drawn = (draw_demo(folder.path(), demo_results()), true);
  static_cast<void>(drawn);
  return folder.path();
}

}  // namespace inkwane::test
