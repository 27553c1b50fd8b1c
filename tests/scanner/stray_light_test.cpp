// Protects: the correction undoes the model of stray light, and leaves alone what has none.
#include "scanner/stray_light.hpp"

#include <cmath>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

using Catch::Matchers::WithinAbs;
using namespace inkwane;

namespace {

/// A dark and a light field with a bar, in cells of a millimetre.
cv::Mat scene() {
  cv::Mat light(120, 160, CV_32FC3, cv::Scalar(0.8, 0.75, 0.7));
  light(cv::Rect(0, 0, 70, 120)).setTo(cv::Scalar(0.03, 0.04, 0.05));
  light(cv::Rect(100, 20, 12, 80)).setTo(cv::Scalar(0.3, 0.1, 0.2));
  return light;
}

/// The model for all cells: light from around, summed cell by cell, edges carried on.
cv::Mat seen_through(const cv::Mat& t, const scanner::StrayLight& stray) {
  const int reach = static_cast<int>(12 * stray.length_mm);
  cv::Mat h(2 * reach + 1, 2 * reach + 1, CV_32FC1);
  for (int y = 0; y < h.rows; ++y) {
    for (int x = 0; x < h.cols; ++x) {
      h.at<float>(y, x) =
          static_cast<float>(std::exp(-std::hypot(x - reach, y - reach) / stray.length_mm));
    }
  }
  h /= cv::sum(h)[0];
  cv::Mat wide;
  cv::copyMakeBorder(t, wide, reach, reach, reach, reach, cv::BORDER_REPLICATE);
  cv::Mat seen(t.size(), CV_32FC3);
  for (int y = 0; y < t.rows; ++y) {
    for (int x = 0; x < t.cols; ++x) {
      cv::Vec3f around;
      for (int j = 0; j < h.rows; ++j) {
        const auto* row = wide.ptr<cv::Vec3f>(y + j) + x;
        const auto* weight = h.ptr<float>(j);
        cv::Vec3f sum;
        for (int i = 0; i < h.cols; ++i) sum += weight[i] * row[i];
        around += sum;
      }
      const auto kappa = static_cast<float>(stray.kappa);
      for (int c = 0; c < 3; ++c) {
        seen.at<cv::Vec3f>(y, x)[c] = t.at<cv::Vec3f>(y, x)[c] * (1 + kappa * around[c]) /
                                      (1 + kappa * static_cast<float>(scanner::kSurround));
      }
    }
  }
  return seen;
}

}  // namespace

TEST_CASE("The correction undoes the model", "[stray]") {
  const double length = GENERATE(4.0, 10.0);
  const scanner::StrayLight stray{0.4, length};
  const cv::Mat t = scene();
  scanner::CoarseLight seen;
  seen.light = seen_through(t, stray);
  seen.pitch_px = 10;
  seen.origin_px = {4.5, 4.5};
  const scanner::Correction correction(seen, {stray, 0, 0, 0});
  for (const cv::Point at : {cv::Point(5, 5), cv::Point(66, 60), cv::Point(74, 60),
                             cv::Point(106, 50), cv::Point(159, 119)}) {
    const Eigen::Vector3d gain = correction.log_gain({4.5 + 10.0 * at.x, 4.5 + 10.0 * at.y});
    for (int c = 0; c < 3; ++c) {
      const double m = static_cast<double>(seen.light.at<cv::Vec3f>(at)[c]);
      const double wanted = static_cast<double>(t.at<cv::Vec3f>(at)[c]);
      CHECK_THAT(m * std::exp(-gain[c]), WithinAbs(wanted, 0.003 * wanted + 0.0002));
    }
  }
}

TEST_CASE("Without stray light nothing is corrected", "[stray]") {
  scanner::CoarseLight seen;
  seen.light = scene();
  const scanner::Correction correction(seen, {{0, 4}, 0.26, 0, 0});
  CHECK(correction.log_gain({50, 50}).norm() == 0);
  cv::Mat light = seen.light.clone();
  correction.remove(light, {0, 0}, 1);
  CHECK(cv::norm(light, seen.light, cv::NORM_INF) == 0);
  // What was left may be there: brighter than in a grey surround on the light field, darker on the
  // dark one.
  REQUIRE(correction.log_errors({50, 50}).cols() == 1);
  CHECK(correction.log_errors({150, 100})(0, 0) > 0.02);
  CHECK(correction.log_errors({20, 100})(0, 0) < -0.02);
}

TEST_CASE("What is taken off finer cells is what the coarse ones say", "[stray]") {
  scanner::CoarseLight seen;
  seen.light = scene();
  seen.pitch_px = 10;
  seen.origin_px = {4.5, 4.5};
  const scanner::Correction correction(seen, {{0.3, 4}, 0, 0, 0});
  cv::Mat fine(37, 41, CV_32FC3, cv::Scalar::all(0.5));
  correction.remove(fine, {600, 300}, 4.5);
  for (const cv::Point cell : {cv::Point(0, 0), cv::Point(40, 36), cv::Point(17, 9)}) {
    const Eigen::Vector3d gain = correction.log_gain({600 + 4.5 * cell.x, 300 + 4.5 * cell.y});
    for (int c = 0; c < 3; ++c) {
      CHECK_THAT(static_cast<double>(fine.at<cv::Vec3f>(cell)[c]),
                 WithinAbs(0.5 * std::exp(-gain[c]), 1e-3));
    }
  }
}

TEST_CASE("Errors of κ and ℓ show as their corrections differ", "[stray]") {
  scanner::CoarseLight seen;
  seen.light = scene();
  const scanner::StrayLightEstimate estimate{{0.26, 4}, 0.03, 0.5, 0};
  const scanner::Correction at(seen, estimate), stronger(seen, {{0.29, 4}, 0, 0, 0}),
      farther(seen, {{0.26, 4.5}, 0, 0, 0});
  for (const Point px : {Point{20, 60}, Point{74, 60}, Point{106, 50}}) {
    const Eigen::Matrix3Xd errors = at.log_errors(px);
    REQUIRE(errors.cols() == 2);
    CHECK((errors.col(0) - (stronger.log_gain(px) - at.log_gain(px))).norm() < 2e-4);
    CHECK((errors.col(1) - (farther.log_gain(px) - at.log_gain(px))).norm() < 2e-4);
  }
}

TEST_CASE("Coarse cells are means of whole fine cells, in their place", "[stray]") {
  scanner::CoarseLight fine;
  fine.pitch_mm = 0.25;
  fine.pitch_px = 3;
  fine.origin_px = {1, 1};
  fine.light = cv::Mat(9, 8, CV_32FC3);
  for (int j = 0; j < 9; ++j) {
    for (int i = 0; i < 8; ++i)
      fine.light.at<cv::Vec3f>(j, i) = cv::Vec3f::all(static_cast<float>(i));
  }
  const scanner::CoarseLight coarse = scanner::coarse_light(fine);
  CHECK(coarse.light.size() == cv::Size(2, 3));
  CHECK_THAT(coarse.pitch_mm, WithinAbs(1, 1e-9));
  CHECK_THAT(coarse.pitch_px, WithinAbs(12, 1e-9));
  CHECK_THAT(coarse.origin_px.x, WithinAbs(5.5, 1e-9));  // the middle of pixels 0 to 11
  CHECK_THAT(static_cast<double>(coarse.light.at<cv::Vec3f>(2, 1)[1]), WithinAbs(5.5, 1e-5));
}
