// Protects: what is painted, grown or drawn by hand becomes one polygon that does not cross itself
// and encloses what was meant.
#include "region/trace.hpp"

#include <cmath>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include "treatment/polygon.hpp"

using namespace inkwane;
using Catch::Matchers::WithinRel;
using treatment::crossing_edges;
using treatment::polygon_area;

TEST_CASE("a mask's border encloses its cells") {
  cv::Mat mask(60, 80, CV_8UC1, cv::Scalar(0));
  mask(cv::Rect(10, 20, 30, 15)).setTo(255);
  mask(cv::Rect(50, 50, 2, 2)).setTo(255);  // a lesser piece
  mask(cv::Rect(20, 25, 3, 3)).setTo(0);    // a hole
  const auto polygon = region::trace(mask, 0.2);
  CHECK_THAT(polygon_area(polygon), WithinRel(450, 0.03));
  CHECK(polygon.size() < 20);
}

TEST_CASE("masks that touch themselves, and single cells, are traced without crossings") {
  cv::RNG random(7);
  for (int i = 0; i < 60; ++i) {
    cv::Mat mask(24, 24, CV_8UC1);
    random.fill(mask, cv::RNG::UNIFORM, 0, 2);
    const auto polygon = region::trace(mask, 0.2);
    REQUIRE(polygon.size() >= 3);
    CHECK_FALSE(crossing_edges(polygon));
  }
  cv::Mat one(5, 5, CV_8UC1, cv::Scalar(0));
  one.at<std::uint8_t>(2, 2) = 1;
  CHECK(region::trace(one, 0.5).size() >= 3);
  CHECK(region::trace(cv::Mat::zeros(5, 5, CV_8UC1), 0.5).empty());
}

TEST_CASE("a hand that crosses its own line still draws one area") {
  const auto eight = region::tidied({{0, 0}, {100, 80}, {100, 0}, {0, 100}}, 0.5);
  REQUIRE(eight.size() >= 3);
  CHECK_FALSE(crossing_edges(eight));
  std::vector<Point> spiral;
  for (int i = 0; i < 400; ++i) {
    const double a = i * 0.04, r = 100 + i * 0.02;
    spiral.push_back({500 + r * std::cos(a), 500 + r * std::sin(a)});
  }
  const auto disc = region::tidied(spiral, 1);
  CHECK_FALSE(crossing_edges(disc));
  CHECK_THAT(polygon_area(disc), WithinRel(M_PI * 107 * 107, 0.05));
  CHECK(region::tidied({{1, 1}, {1, 1}, {2, 2}}, 1).empty());
}

TEST_CASE("a line with a width is its area") {
  CHECK(polygon_area(region::stroke({{0, 0}, {100, 0}}, 3)) == 300);
  CHECK_THAT(polygon_area(region::stroke({{0, 0}, {100, 0}, {100, 50}}, 4)), WithinRel(600, 0.01));
  std::vector<Point> wave;
  for (int i = 0; i <= 1000; ++i) wave.push_back({i * 1.0, 40 * std::sin(i * 0.05)});
  double length = 0;
  for (std::size_t i = 1; i < wave.size(); ++i) {
    length += std::hypot(wave[i].x - wave[i - 1].x, wave[i].y - wave[i - 1].y);
  }
  const auto thin = region::stroke(wave, 3);
  CHECK_FALSE(crossing_edges(thin));
  CHECK_THAT(polygon_area(thin), WithinRel(3 * length, 0.02));
  const auto back = region::stroke({{0, 0}, {100, 0}, {2, 3}, {90, 6}}, 8);  // doubles back
  REQUIRE(back.size() >= 3);
  CHECK_FALSE(crossing_edges(back));
  CHECK(region::stroke({{5, 5}}, 3).empty());
}
