// Protects: the correction undoes the model of stray light, and leaves alone what has none.
#include "scanner/stray_light.hpp"

#include <algorithm>
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

/// The model, summed cell by cell.
cv::Vec3d seen_at(const cv::Mat& t, cv::Point at, const scanner::StrayLight& stray) {
  cv::Vec3d sum;
  double weight = 0;
  const int reach = static_cast<int>(12 * stray.length_mm);
  for (int y = -reach; y <= reach; ++y) {
    for (int x = -reach; x <= reach; ++x) {
      const double h = std::exp(-std::hypot(x, y) / stray.length_mm);
      sum += h * cv::Vec3d(t.at<cv::Vec3f>(std::clamp(at.y + y, 0, t.rows - 1),
                                           std::clamp(at.x + x, 0, t.cols - 1)));
      weight += h;
    }
  }
  cv::Vec3d m = t.at<cv::Vec3f>(at);
  for (int c = 0; c < 3; ++c) {
    m[c] *= (1 + stray.kappa * sum[c] / weight) / (1 + stray.kappa * scanner::kSurround);
  }
  return m;
}

}  // namespace

TEST_CASE("The correction undoes the model", "[stray]") {
  const double length = GENERATE(4.0, 10.0);
  const scanner::StrayLight stray{0.4, length};
  const cv::Mat t = scene();
  scanner::CoarseLight seen;
  seen.light = t.clone();
  seen.pitch_px = 10;
  seen.origin_px = {4.5, 4.5};
  for (int y = 0; y < t.rows; ++y) {
    for (int x = 0; x < t.cols; ++x) {
      const cv::Vec3d m = seen_at(t, {x, y}, stray);
      seen.light.at<cv::Vec3f>(y, x) = cv::Vec3f(m);
    }
  }
  const scanner::Correction correction(seen, stray);
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
  const scanner::Correction correction(seen, {0, 4});
  CHECK(correction.log_gain({50, 50}).norm() < 1e-6);
}
