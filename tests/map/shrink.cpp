// Protects: a picture's pixel is the mean of what was measured under it, never of what was not.
#include "map/shrink.hpp"

#include <cmath>
#include <limits>

#include <catch2/catch.hpp>

using namespace inkwane::map;
using Catch::WithinAbs;

TEST_CASE("averaging leaves out cells without a value") {
  constexpr float kNone = std::numeric_limits<float>::quiet_NaN();
  const cv::Mat values = (cv::Mat_<float>(2, 6) << 1, 3, 4, kNone, kNone, kNone,  //
                          5, 7, kNone, 8, kNone, 9);
  const cv::Mat small = resized_values(values, {3, 1});
  CHECK_THAT(small.at<float>(0, 0), WithinAbs(4, 1e-6));
  CHECK_THAT(small.at<float>(0, 1), WithinAbs(6, 1e-6));  // of 4 and 8 alone
  CHECK(std::isnan(small.at<float>(0, 2)));               // a quarter of it is too little
}

TEST_CASE("enlarging shows the cells as they are") {
  const cv::Mat values = (cv::Mat_<float>(1, 2) << 1, 9);
  const cv::Mat large = resized_values(values, {10, 5});
  CHECK(cv::countNonZero(large == 1.0F) == 25);
  CHECK(cv::countNonZero(large == 9.0F) == 25);
}

TEST_CASE("a faded scan keeps to the light greys") {
  cv::Mat scan(1, 256, CV_8UC3);
  for (int i = 0; i < 256; ++i) scan.at<cv::Vec3b>(i) = cv::Vec3b::all(static_cast<uchar>(i));
  const cv::Mat ground = faded(scan, scan.size());
  CHECK(ground.at<uchar>(0) == kFaded);
  CHECK(ground.at<uchar>(255) == 255);
  for (int i = 1; i < 256; ++i) CHECK(ground.at<uchar>(i) >= ground.at<uchar>(i - 1));
}
