// Protects XYZ → sRGB pictures, against LittleCMS.
#include <cmath>
#include <limits>

#include <catch2/catch.hpp>

#include "colour/icc.hpp"

using namespace inkwane;
using namespace inkwane::colour;

TEST_CASE("every sRGB colour comes back as itself") {
  // LittleCMS says what XYZ an sRGB code has; to_srgb must give the code back.
  std::vector<std::array<double, 3>> encoded;
  for (int r = 0; r <= 255; r += 5) {
    for (int g = 0; g <= 255; g += 5) {
      for (int b = 0; b <= 255; b += 5) encoded.push_back({r / 255.0, g / 255.0, b / 255.0});
    }
  }
  const auto lab = lab_through_profile(srgb_profile(), encoded);
  cv::Mat xyz(1, static_cast<int>(lab.size()), CV_32FC3);
  for (int i = 0; i < xyz.cols; ++i) {
    const XyzD50 c = to_xyz(lab[i]);
    xyz.at<cv::Vec3f>(i) = {float(c.X), float(c.Y), float(c.Z)};
  }
  const cv::Mat picture = to_srgb(xyz);
  REQUIRE(picture.type() == CV_8UC3);
  int wrong = 0;
  for (int i = 0; i < xyz.cols; ++i) {
    for (int c = 0; c < 3; ++c) {
      wrong += picture.at<cv::Vec3b>(i)[c] != std::lround(encoded[i][c] * 255);
    }
  }
  CHECK(wrong == 0);
}

TEST_CASE("colours outside sRGB are held at its edge; what was not measured is white") {
  cv::Mat xyz(1, 3, CV_32FC3);
  xyz.at<cv::Vec3f>(0) = {2, 2, 2};
  xyz.at<cv::Vec3f>(1) = {-1, -1, -1};
  xyz.at<cv::Vec3f>(2) = {0.5f, std::numeric_limits<float>::quiet_NaN(), 0.5f};
  const cv::Mat picture = to_srgb(xyz);
  CHECK(picture.at<cv::Vec3b>(0) == cv::Vec3b(255, 255, 255));
  CHECK(picture.at<cv::Vec3b>(1) == cv::Vec3b(0, 0, 0));
  CHECK(picture.at<cv::Vec3b>(2) == cv::Vec3b(255, 255, 255));
}
