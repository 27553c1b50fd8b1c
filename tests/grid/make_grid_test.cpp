// Protects: light is averaged before colour, in the right place, over the right width, and clipped
// pixels do not pass for measured ones.
#include <cmath>
#include <filesystem>

#include <catch2/catch.hpp>
#include <opencv2/imgcodecs.hpp>
#include <unistd.h>

#include <inkwane/colour.hpp>

#include "grid/grid.hpp"

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {

/// IEC 61966-2-1, linear → encoded; written here anew.
std::uint16_t encode(double linear) {
  const double v = linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1 / 2.4) - 0.055;
  return static_cast<std::uint16_t>(std::lround(65535 * v));
}

grid::Grid make(const cv::Mat& linear, double dpi, double pitch_mm, double aperture_mm) {
  cv::Mat encoded(linear.size(), CV_16UC3);
  for (int y = 0; y < linear.rows; ++y) {
    for (int x = 0; x < linear.cols; ++x) {
      encoded.at<cv::Vec3w>(y, x) = cv::Vec3w::all(encode(linear.at<double>(y, x)));
    }
  }
  const auto file = std::filesystem::temp_directory_path() /
                    ("inkwane-grid-" + std::to_string(getpid()) + ".png");
  cv::imwrite(file.string(), encoded);
  const auto scan = scan::Scan::open(file);
  const auto colour = target::ScanColour::uncalibrated(
      colour::Linearisation::from_profile(scan.info().icc, file.string()));
  auto grid = grid::make_grid(
      scan, colour, grid::make_geometry(linear.cols, linear.rows, dpi, pitch_mm), aperture_mm, {});
  std::filesystem::remove(file);
  return grid;
}

double lightness(const cv::Mat& xyz, int row, int column) {
  const auto& v = xyz.at<cv::Vec3f>(row, column);
  return to_lab({static_cast<double>(v[0]), static_cast<double>(v[1]), static_cast<double>(v[2])})
      .L;
}

}  // namespace

TEST_CASE("a halftone is averaged in light, not in Lab") {
  // 50 % of Y .80 and .05: L* of the mean 71.21, mean of the L* 59.21 (computed from ISO/CIE
  // 11664-4).
  cv::Mat lines(300, 300, CV_64F);
  for (int y = 0; y < lines.rows; ++y) {
    for (int x = 0; x < lines.cols; ++x)
      lines.at<double>(y, x) = (x / 2 + y / 2) % 2 == 0 ? 0.80 : 0.05;
  }
  const auto grid = make(lines, 300, 0.1, 0.5);
  for (const int at : {60, 100, 101, 177}) {
    CHECK_THAT(lightness(grid.xyz, at, at), WithinAbs(71.21, 0.15));
  }
}

TEST_CASE("a spot keeps its place and gets the aperture's width") {
  // At 600 dpi and 0.1 mm the pitch is 2.362 px. One bright pixel at (240, 150).
  cv::Mat dark(400, 500, CV_64F, cv::Scalar(0.1));
  dark.at<double>(150, 240) = 0.9;
  const auto grid = make(dark, 600, 0.1, 0.5);
  // Encoding to 16 bits shifts the background a little; take it where the spot does not reach.
  const auto background = static_cast<double>(grid.light.at<cv::Vec3f>(5, 5)[1]);
  double sum = 0, x = 0, y = 0, xx = 0;
  for (int j = 0; j < grid.light.rows; ++j) {
    for (int i = 0; i < grid.light.cols; ++i) {
      const double extra = static_cast<double>(grid.light.at<cv::Vec3f>(j, i)[1]) - background;
      const Point px = grid.geometry.to_px({static_cast<double>(i), static_cast<double>(j)});
      if (std::hypot(px.x - 240, px.y - 150) > 30) continue;
      sum += extra;
      x += extra * px.x;
      y += extra * px.y;
      xx += extra * (px.x - 240) * (px.x - 240);
    }
  }
  CHECK_THAT(x / sum, WithinAbs(240, 0.05));
  CHECK_THAT(y / sum, WithinAbs(150, 0.05));
  // FWHM 0.5 mm = 11.81 px; σ = 11.81 / 2.3548 = 5.016 px; cutting the tails takes up to 1 %.
  CHECK_THAT(std::sqrt(xx / sum), WithinAbs(5.016, 0.06));
}

TEST_CASE("the structure signal is finer than the aperture") {
  cv::Mat edge(200, 200, CV_64F, cv::Scalar(0.1));
  edge.colRange(100, 200).setTo(0.8);
  const auto grid = make(edge, 300, 0.1, 0.5);
  const auto width = [&](const auto& at) {
    int between = 0;
    for (int i = 0; i < grid.light.cols; ++i) between += at(i);
    return between;
  };
  const int fine = width([&](int i) {
    const double v = std::pow(static_cast<double>(grid.structure.at<float>(80, i)), 3);
    return v > 0.17 && v < 0.73;
  });
  const int coarse = width([&](int i) {
    const double v = static_cast<double>(grid.light.at<cv::Vec3f>(80, i)[1]);
    return v > 0.17 && v < 0.73;
  });
  CHECK(fine < coarse);
}

TEST_CASE("cells whose aperture was clipped are marked, others are not") {
  cv::Mat paper(300, 300, CV_64F, cv::Scalar(0.7));
  paper(cv::Rect(100, 100, 50, 50)).setTo(1.0);
  const auto grid = make(paper, 300, 0.1, 0.5);
  const auto marked = [&](double x, double y) {
    const Point cell = grid.geometry.to_cell({x, y});
    return grid.clipped.at<std::uint8_t>(static_cast<int>(std::lround(cell.y)),
                                         static_cast<int>(std::lround(cell.x))) != 0;
  };
  CHECK(marked(125, 125));
  CHECK(marked(101, 125));
  CHECK_FALSE(marked(85, 125));
  CHECK_FALSE(marked(250, 250));
  CHECK(static_cast<double>(cv::countNonZero(grid.clipped)) /
            static_cast<double>(grid.clipped.total()) <
        0.045);  // 50² of 300² px, and a margin of half an aperture
}
