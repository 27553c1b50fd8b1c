// The room on a simulated sheet (docs/method.md, "Accuracy to reach"): spectral inks and scanner,
// bath stretch and strong cockle, fading; the truth comes from the simulation.
#include <cmath>
#include <filesystem>
#include <map>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>
#include <unistd.h>

#include "align/agreement.hpp"
#include "align/sides.hpp"
#include "simulate/simulate.hpp"
#include "target/find.hpp"

using namespace inkwane;

namespace {

struct Taken {
  Taken(const std::filesystem::path& path, const target::Reference& reference)
      : file(path.filename().string()) {
    const auto scan = scan::Scan::open(path);
    const auto& info = scan.info();
    const auto colour =
        target::ScanColour::uncalibrated(colour::Linearisation::from_profile(info.icc, file));
    grid = grid::make_grid(
        scan, colour,
        grid::make_geometry(info.width_px, info.height_px, info.resolution_dpi.value_or(0), 0.1),
        0.5, target::find_target(scan, reference).card);
    outline = align::find_outline(grid, file);
  }
  [[nodiscard]] align::View view(const std::string& stage) const {
    return {&grid, &outline, file, stage};
  }

  std::string file;
  grid::Grid grid;
  align::Outline outline;
};

}  // namespace

TEST_CASE("a simulated sheet with strong cockle is outlined, aligned and paired",
          "[align][simulated]") {
  const auto folder =
      std::filesystem::temp_directory_path() / ("inkwane-align-" + std::to_string(::getpid()));
  simulate::Scene scene = simulate::solids_scene(7);
  scene.deformation["AT"] = {1.01, 1.002, 0.5, 0.6, 1.5, -1};
  const simulate::Truth truth = simulate::write_scene(scene, folder);
  const auto reference = target::read_reference(folder / "target.txt", 4, 6);

  std::map<std::string, Taken> first;
  for (const std::string side : {"recto", "verso"}) {
    CAPTURE(side);
    const Taken& bt = first.try_emplace(side, folder / "scans" / ("bt-" + side + ".tif"), reference)
                          .first->second;
    const Taken at(folder / "scans" / ("at-" + side + ".tif"), reference);
    const auto& geometry = bt.grid.geometry;
    const double mm = geometry.pitch_mm / geometry.pitch_px;
    for (std::size_t i = 0; i < 4; ++i) {
      const Point found = geometry.to_px(bt.outline.quad[i]);
      const cv::Point2d corner = truth.sheet_corners.at("BT." + side)[i];
      CHECK(std::hypot(found.x - corner.x, found.y - corner.y) * mm < 0.1);
    }

    const align::Warp warp = align::align_stage(bt.view("BT"), at.view("AT"), {});

    cv::Mat inner;
    cv::erode(bt.outline.sheet, inner, cv::Mat::ones(21, 21, CV_8U));
    std::vector<double> errors;
    for (int row = 0; row < inner.rows; row += 4) {
      for (int column = 0; column < inner.cols; column += 4) {
        if (inner.at<uchar>(row, column) == 0) continue;
        const Point here = geometry.to_px({static_cast<double>(column), static_cast<double>(row)});
        const cv::Point2d there = truth.position.at("AT." + side)({here.x, here.y});
        const cv::Vec2f to = warp.to_later.at<cv::Vec2f>(row, column);
        const Point found =
            at.grid.geometry.to_px({static_cast<double>(to[0]), static_cast<double>(to[1])});
        errors.push_back(std::hypot(found.x - there.x, found.y - there.y) * mm);
      }
    }
    REQUIRE(errors.size() > 20000);
    CHECK(align::quantile(errors, 0.5) < 0.03);
    CHECK(align::quantile(errors, 0.95) < 0.09);
  }

  const align::Pairing pairing =
      align::pair_sides(first.at("recto").view("BT"), first.at("verso").view("BT"), Turn::side);
  CHECK(pairing.turn_seen.value_or(Turn::side) == Turn::side);
  REQUIRE(pairing.pairing_mm.has_value());
  const auto& verso = first.at("verso").grid.geometry;
  const auto& recto = first.at("recto").grid.geometry;
  double worst = 0;
  for (int row = 100; row < verso.rows - 100; row += 50) {
    for (int column = 100; column < verso.columns - 100; column += 50) {
      if (first.at("verso").outline.sheet.at<uchar>(row, column) == 0) continue;
      const Point here = verso.to_px({static_cast<double>(column), static_cast<double>(row)});
      const cv::Point2d behind = truth.recto_behind.at("BT")({here.x, here.y});
      const cv::Vec2f to = pairing.to_recto.at<cv::Vec2f>(row, column);
      const Point found = recto.to_px({static_cast<double>(to[0]), static_cast<double>(to[1])});
      worst = std::max(worst, std::hypot(found.x - behind.x, found.y - behind.y) * recto.pitch_mm /
                                  recto.pitch_px);
    }
  }
  CHECK(worst > 0);
  CHECK(worst < 2 * *pairing.pairing_mm);
  std::filesystem::remove_all(folder);
}
