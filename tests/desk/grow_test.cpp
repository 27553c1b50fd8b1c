// Protects: a region grown from a colour covers that colour and stops at its edge.
#include "desk/grow.hpp"

#include <cmath>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

using namespace inkwane;

namespace {

const cv::Scalar kPaper(92, 1, 8), kRed(52, 55, 35);

cv::Mat paper() {
  return {120, 160, CV_32FC3, kPaper};
}

double covered(const cv::Mat& mask, const cv::Mat& truth) {
  return static_cast<double>(cv::countNonZero(mask & truth)) / cv::countNonZero(mask | truth);
}

}  // namespace

TEST_CASE("a noisy, blurred patch is covered to its edge and no further") {
  cv::Mat lab = paper(), truth(lab.size(), CV_8UC1, cv::Scalar(0));
  cv::ellipse(truth, {70, 60}, {40, 25}, 20, 0, 360, cv::Scalar(255), cv::FILLED);
  lab.setTo(kRed, truth);
  cv::GaussianBlur(lab, lab, {}, 1.5);  // as the aperture does
  cv::Mat noise(lab.size(), CV_32FC3);
  cv::RNG(3).fill(noise, cv::RNG::NORMAL, 0, 0.8);
  const cv::Mat grown = desk::grow(lab + noise, {70, 60}, 15);
  CHECK(covered(grown, truth) > 0.9);
  CHECK(cv::countNonZero(grown & ~truth) < 0.03 * cv::countNonZero(truth));
}

TEST_CASE("a slope is followed as far as its colour reaches, an edge is not crossed") {
  cv::Mat lab = paper();
  for (int x = 0; x < lab.cols; ++x) {
    const float a = static_cast<float>(x) * 0.5F;
    lab.col(x).setTo(cv::Scalar(60, static_cast<double>(a), 0));
  }
  lab.colRange(100, lab.cols).setTo(kPaper);
  const cv::Mat wide = desk::grow(lab, {50, 60}, 60);
  CHECK(cv::countNonZero(wide.col(99)) == lab.rows);
  const cv::Mat narrow = desk::grow(lab, {50, 60}, 5);
  CHECK(cv::countNonZero(narrow.col(80)) == 0);
  CHECK(cv::countNonZero(narrow.col(52)) == lab.rows);
}

TEST_CASE("what was not measured is never grown over") {
  cv::Mat lab = paper();
  lab.colRange(80, 82).setTo(cv::Scalar::all(std::nan("")));
  const cv::Mat grown = desk::grow(lab, {10, 10}, 10);
  CHECK(cv::countNonZero(grown) == 80 * lab.rows);
  CHECK(cv::countNonZero(desk::grow(lab, {81, 10}, 10)) == 0);
  CHECK(cv::countNonZero(desk::grow(lab, {-1, 10}, 10)) == 0);
}
