// Protects: what lies on top of a picture is the map's paint and nothing else.
#include <limits>
#include <stdexcept>

#include <catch2/catch.hpp>

#include "map/picture.hpp"
#include "map/scale.hpp"
#include "map/shrink.hpp"
#include "tests/map/read_back.hpp"
#include "tests/support.hpp"

using namespace inkwane;

namespace {

/// CV_8UC4, R G B A.
cv::Mat read_with_alpha(const std::filesystem::path& file) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  if (png_image_begin_read_from_file(&image, file.c_str()) == 0)
    throw std::runtime_error(image.message);
  image.format = PNG_FORMAT_RGBA;
  cv::Mat picture(static_cast<int>(image.height), static_cast<int>(image.width), CV_8UC4);
  if (png_image_finish_read(&image, nullptr, picture.data, 0, nullptr) == 0)
    throw std::runtime_error(image.message);
  return picture;
}

cv::Mat some_values() {
  cv::Mat values(40, 30, CV_32FC1, cv::Scalar(0));
  values(cv::Rect(0, 0, 10, 40)).setTo(0.31);
  values(cv::Rect(20, 0, 10, 40)).setTo(std::numeric_limits<float>::quiet_NaN());
  return values;
}

}  // namespace

TEST_CASE("an overlay is clear where nothing is painted, and has the legend's colours elsewhere") {
  const map::Style& style = map::style_of("lost-ink");
  const test::TemporaryFolder folder;
  CHECK(map::write_overlay(folder / "o.png", some_values(), style, 100) == 1);
  const cv::Mat read = read_with_alpha(folder / "o.png");
  const auto step = map::painted_step(0.31, style);
  REQUIRE(step.has_value());
  const map::Rgb colour = map::sequential_scale()[static_cast<std::size_t>(*step)];
  CHECK(read.at<cv::Vec4b>(20, 5) == cv::Vec4b(colour[0], colour[1], colour[2], 255));
  CHECK(read.at<cv::Vec4b>(20, 15)[3] == 0);
  CHECK(read.at<cv::Vec4b>(20, 25)[3] == 0);
}

TEST_CASE("a plain map is the map alone, in the same colours") {
  const map::Style& style = map::style_of("lost-ink");
  const cv::Mat scan(40, 30, CV_8UC3, cv::Scalar(230, 225, 210));
  const test::TemporaryFolder folder;
  CHECK(map::write_plain(folder / "p.png", some_values(), scan, style, 100) == 1);
  map::write_overlay(folder / "o.png", some_values(), style, 100);
  const cv::Mat plain = test::read_png(folder / "p.png"), over = test::read_png(folder / "o.png");
  REQUIRE(plain.size() == cv::Size(30, 40));
  CHECK(plain.at<cv::Vec3b>(20, 5) == over.at<cv::Vec3b>(20, 5));
  const auto ground = plain.at<cv::Vec3b>(20, 15);
  CHECK(ground[0] == ground[1]);
  CHECK(ground[0] >= map::kFaded);
}

TEST_CASE("a large map is brought to its size, and says by how much") {
  const cv::Mat values(500, 1000, CV_32FC1, cv::Scalar(0.3));
  const test::TemporaryFolder folder;
  CHECK(map::write_overlay(folder / "o.png", values, map::style_of("lost-ink"), 250) == 4);
  CHECK(test::read_png(folder / "o.png").size() == cv::Size(250, 125));
}

TEST_CASE("what is painted is above what is not: never a value that could not be had") {
  const map::Style& style = map::style_of("difference");
  CHECK_FALSE(map::painted_step(1.69, style).has_value());
  CHECK(map::painted_step(1.71, style) == 0);
  CHECK(map::painted_step(1000, style) == map::kScaleSteps - 1);
  CHECK_FALSE(map::painted_step(std::numeric_limits<double>::quiet_NaN(), style).has_value());
}
