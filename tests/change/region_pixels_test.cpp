// Protects reading a region again from the scans' own pixels: the same place of the print at every
// stage, nothing resampled, and real screens told from real writing.
#include "change/region_pixels.hpp"

#include <cstdlib>

#include <catch2/catch.hpp>

#include "change/screen_reading.hpp"
#include "tests/scan/images.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using namespace inkwane::change;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

/// A scan on disk with what is needed to read it; its grid has a cell a pixel.
struct OnDisk {
  TemporaryFolder folder;
  scan::Scan scan;
  target::ScanColour colour;
  explicit OnDisk(const cv::Mat& picture)
      : scan(open(folder, picture)),
        colour(target::ScanColour::uncalibrated(colour::Linearisation::from_profile({}, "scan"))) {}
  static scan::Scan open(const TemporaryFolder& folder, const cv::Mat& picture) {
    write_tiff(folder / "scan.tif", picture);
    return scan::Scan::open(folder / "scan.tif");
  }
  [[nodiscard]] grid::Geometry geometry() const {
    return {25.4 / 300, 1, {0, 0}, scan.info().width_px, scan.info().height_px};
  }
  [[nodiscard]] ScanPixels pixels() const {
    return {&scan, &colour, 300, geometry(), {}, {}, std::nullopt};
  }
};

region::Mask mask_of(const Region& region, const grid::Geometry& geometry) {
  const cv::Mat sheet(geometry.size(), CV_8UC1, cv::Scalar(255));
  return region::make_mask(region, geometry, sheet, "treatment.toml");
}

Region triangle() {
  Region region;
  region.id = "triangle";
  region.polygon = {{40.5, 30.5}, {150.5, 40.5}, {70.5, 140.5}};
  return region;
}

}  // namespace

TEST_CASE("a later stage's window shows the same place, pixel for pixel") {
  const cv::Mat first_picture = pattern(200, 220, 16);
  constexpr int kRight = 13, kDown = 9;
  cv::Mat later_picture = pattern(230, 250, 16) * 0.5;
  first_picture.copyTo(later_picture(cv::Rect({kRight, kDown}, first_picture.size())));
  const OnDisk first(first_picture), later(later_picture);
  const Region region = triangle();
  const region::Mask mask = mask_of(region, first.geometry());

  ScanPixels moved = later.pixels();
  moved.to_later.create(first.geometry().size(), CV_32FC2);
  for (int j = 0; j < moved.to_later.rows; ++j) {
    for (int i = 0; i < moved.to_later.cols; ++i) {
      moved.to_later.at<cv::Vec2f>(j, i) = {static_cast<float>(i + kRight),
                                            static_cast<float>(j + kDown)};
    }
  }
  moved.misfit_mm = cv::Mat(first.geometry().size(), CV_32FC1, cv::Scalar(0.01));
  const auto one = read_region(mask, first.geometry(), first.pixels()),
             two = read_region(mask, first.geometry(), moved);
  REQUIRE(one);
  REQUIRE(two);
  CHECK(cv::norm(one->sharp, two->sharp, cv::NORM_INF) == 0);
  CHECK(cv::norm(one->weight, two->weight, cv::NORM_INF) < 1e-6);
  CHECK(cv::countNonZero(one->weight) < cv::countNonZero(mask.inside));  // drawn in
  CHECK(cv::countNonZero(one->weight) > 0.9 * cv::countNonZero(mask.inside));
  CHECK((two->stretch - Eigen::Matrix2d::Identity()).norm() < 1e-6);
  CHECK_THAT(two->u_px, WithinAbs(0.01 * 300 / 25.4, 1e-6));
}

TEST_CASE("a grown and turned sheet says how lines of the print lie there") {
  const OnDisk first(pattern(200, 220, 16)), later(pattern(240, 260, 16));
  const Region region = triangle();
  const region::Mask mask = mask_of(region, first.geometry());
  ScanPixels moved = later.pixels();
  moved.to_later.create(first.geometry().size(), CV_32FC2);
  for (int j = 0; j < moved.to_later.rows; ++j) {
    for (int i = 0; i < moved.to_later.cols; ++i) {
      moved.to_later.at<cv::Vec2f>(j, i) = {
          1.02F * static_cast<float>(i) + 0.05F * static_cast<float>(j),
          0.99F * static_cast<float>(j) + 3};
    }
  }
  moved.misfit_mm = cv::Mat(first.geometry().size(), CV_32FC1, cv::Scalar(0));
  const auto read = read_region(mask, first.geometry(), moved);
  REQUIRE(read);
  Eigen::Matrix2d expected;
  expected << 1.02, 0.05, 0, 0.99;
  CHECK((read->stretch - expected).norm() < 1e-4);
}

TEST_CASE("clipped pixels are counted") {
  cv::Mat picture(200, 220, CV_16UC3, cv::Scalar::all(30000));
  picture.rowRange(0, 80).setTo(cv::Scalar(30000, 65535, 30000));
  const OnDisk first(picture);
  const Region region = triangle();
  const auto read =
      read_region(mask_of(region, first.geometry()), first.geometry(), first.pixels());
  REQUIRE(read);
  CHECK(read->clipped > 0.4);  // the triangle is wide above
  CHECK(read->clipped < 0.8);
}

// Old colour-printed cards and a handwritten leaf: every part of a card that shows a screen must
// show the same one.
TEST_CASE("real screens are found, all over the card alike, and none in handwriting") {
  const char* const folder = std::getenv("INKWANE_REAL_SCANS");
  if (folder == nullptr) {
    WARN("INKWANE_REAL_SCANS is not set: not tried on real scans");
    return;
  }
  const auto screens = [&](const std::string& name) {
    const std::filesystem::path file = std::filesystem::path(folder) / name;
    const auto scan = scan::Scan::open(file);
    const auto colour = target::ScanColour::uncalibrated(
        colour::Linearisation::from_profile(scan.info().icc, file.string()));
    const grid::Geometry geometry{
        25.4 / 300, 1, {0, 0}, scan.info().width_px, scan.info().height_px};
    std::vector<Lattices> found;
    constexpr int kSide = 300;
    for (int y = 0; y + kSide < geometry.rows; y += kSide) {
      for (int x = 0; x + kSide < geometry.columns; x += kSide) {
        Region region;
        const double left = x + 0.5, top = y + 0.5;
        region.polygon = {
            {left, top}, {left + kSide, top}, {left + kSide, top + kSide}, {left, top + kSide}};
        const auto pixels = read_region(mask_of(region, geometry), geometry,
                                        {&scan, &colour, 300, geometry, {}, {}, std::nullopt});
        REQUIRE(pixels);
        found.push_back(ScreenSpectrum(*pixels).find(300, true));
      }
    }
    return found;
  };
  for (const std::string card : {"card_major_10_old.jpg", "card_wands_12_old.jpg"}) {
    const std::vector<Lattices> found = screens(card);
    std::size_t with = 0;
    for (const Lattices& l : found) {
      if (l.found.empty()) continue;
      ++with;
      INFO(card);
      CHECK_THAT(l.found[0].frequency(), WithinAbs(0.19, 0.005));
      CHECK_THAT(l.found[0].angle_degrees(), WithinAbs(40, 1.5));
    }
    CHECK(2 * with >= found.size());
  }
  for (const Lattices& l : screens("leaf_front.jpg")) CHECK(l.found.empty());
}
