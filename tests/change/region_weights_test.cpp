// A region's weights: exact at its outline, and free of the light that the aperture lets in.
#include "change/region_weights.hpp"

#include <cmath>
#include <limits>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double kSigmaCells = 5 / 2.354820045;  // 0.5 mm at half maximum, cells of 0.1 mm

struct Scene {
  Region record;
  region::Mask mask;
  grid::Geometry geometry{0.1, 1, {0, 0}, 120, 100};
  change::Layer layer;

  /// A rectangle of colour 0.2 on 0.8, from `left` to `right` and row 20 to 80 (cells' edges), seen
  /// through the aperture; the region is the rectangle.
  Scene(double left, double right) {
    record.polygon = {
        {left - 0.5, 19.5}, {right - 0.5, 19.5}, {right - 0.5, 79.5}, {left - 0.5, 79.5}};
    constexpr int kFine = 20;
    cv::Mat fine(1, 120 * kFine, CV_32FC1, cv::Scalar(0.8));
    for (int i = 0; i < fine.cols; ++i) {
      const double x = (i + 0.5) / kFine;
      if (x > left && x < right) fine.at<float>(0, i) = 0.2F;
    }
    cv::Mat row, image(100, 120, CV_32FC1, cv::Scalar(0.8));
    cv::resize(fine, row, {120, 1}, 0, 0, cv::INTER_AREA);
    for (int y = 20; y < 80; ++y) row.copyTo(image.row(y));
    cv::GaussianBlur(image, image, {}, kSigmaCells);
    cv::merge(std::vector<cv::Mat>{image, image, image}, layer.xyz);
    layer.valid = cv::Mat(100, 120, CV_8UC1, cv::Scalar(255));
    mask.region = &record;
    mask.bounds = cv::Rect(static_cast<int>(left) - 1, 19, static_cast<int>(right - left) + 4, 62);
  }
  Scene(const Scene&) = delete;
  Scene& operator=(const Scene&) = delete;
};

}  // namespace

TEST_CASE("Coverage is exact along rows and sums to the polygon's area") {
  const std::vector<Point> triangle{{10.2, 5.1}, {40.7, 12.4}, {18.3, 33.9}};
  const double area = 0.5 * std::abs((40.7 - 10.2) * (33.9 - 5.1) - (18.3 - 10.2) * (12.4 - 5.1));
  const cv::Mat cover = change::coverage(triangle, {0, 0, 60, 50});
  CHECK_THAT(cv::sum(cover)[0], WithinAbs(area, 0.02 * area));
  double least = 0, most = 0;
  cv::minMaxLoc(cover, &least, &most);
  CHECK(least >= 0);
  CHECK(most <= 1 + 1e-5);

  const cv::Mat half =
      change::coverage({{2.2, 1.5}, {7.5, 1.5}, {7.5, 4.5}, {2.2, 4.5}}, {0, 0, 10, 6});
  CHECK_THAT(static_cast<double>(half.at<float>(3, 2)), WithinAbs(0.3, 1e-5));  // from 2.2 to 2.5
  CHECK_THAT(static_cast<double>(half.at<float>(3, 5)), WithinAbs(1, 1e-5));
  CHECK(half.at<float>(1, 5) == 0);
}

TEST_CASE("A line 0.6 mm wide keeps its own colour") {
  for (const double left : {50.0, 50.3, 50.77}) {
    const Scene scene(left, left + 6);
    const auto w = change::region_weights(scene.mask, scene.geometry, {&scene.layer}, 0, 0.5);
    REQUIRE_FALSE(w.weight.empty());
    const double mean = change::weighted_mean(scene.layer.xyz, w)[0];
    INFO("left edge " << left << ": mean " << mean);
    CHECK_THAT(mean, WithinAbs(0.2, 0.03));  // the plain mean of its cells is 0.32
    CHECK(w.noise_gain < 0.5);
  }
}

TEST_CASE("Erosion takes the misfit off, unless too little would be left") {
  const Scene wide(30, 90), thin(50, 53);
  const auto whole = change::region_weights(wide.mask, wide.geometry, {&wide.layer}, 0, 0.5);
  const auto inner = change::region_weights(wide.mask, wide.geometry, {&wide.layer}, 0.3, 0.5);
  // Three cells off each side: noise falls on fewer cells, though less is taken off for spill.
  CHECK(inner.noise_gain > 1.05 * whole.noise_gain);
  CHECK(inner.noise_gain < 60.0 * 60 / (54.0 * 54) * whole.noise_gain);
  CHECK_THAT(change::weighted_mean(wide.layer.xyz, inner)[0], WithinAbs(0.2, 0.002));
  const auto kept = change::region_weights(thin.mask, thin.geometry, {&thin.layer}, 0.2, 0.5);
  REQUIRE_FALSE(kept.weight.empty());
  CHECK_THAT(cv::sum(kept.weight)[0], WithinAbs(1, 1e-4));
}

TEST_CASE("Cells that were not measured do not count") {
  Scene scene(30, 90);
  scene.layer.valid(cv::Rect(60, 0, 60, 100)).setTo(0);
  scene.layer.xyz(cv::Rect(60, 0, 60, 100))
      .setTo(cv::Scalar::all(std::numeric_limits<double>::quiet_NaN()));
  const auto w = change::region_weights(scene.mask, scene.geometry, {&scene.layer}, 0, 0.5);
  CHECK_THAT(change::weighted_mean(scene.layer.xyz, w)[0], WithinAbs(0.2, 0.01));
  scene.layer.valid.setTo(0);
  CHECK(change::region_weights(scene.mask, scene.geometry, {&scene.layer}, 0, 0.5).weight.empty());
}
