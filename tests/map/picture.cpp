// Protects: a colour on a map means what its legend says it means, and what is missing or beyond
// the scale is told apart from what was measured.
#include "map/picture.hpp"

#include <limits>
#include <set>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "map/scale.hpp"
#include "tests/map/read_back.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using Catch::WithinAbs;

namespace {

constexpr float kNone = std::numeric_limits<float>::quiet_NaN();

struct Scene {
  cv::Mat values = cv::Mat(300, 200, CV_32FC1, cv::Scalar(0));
  cv::Mat srgb = cv::Mat(300, 200, CV_8UC3, cv::Scalar(240, 235, 220));
  grid::Geometry geometry{0.5, 1, {0, 0}, 200, 300};
  map::Caption caption{"Marlow Vale Nurseries, spring list 1931", "recto, BT → AT", true};
  test::TemporaryFolder folder;

  cv::Mat draw(const std::string& kind) {
    const auto file = folder / "map.png";
    map::write_png(file, values, srgb, geometry, map::style_of(kind), caption);
    return test::read_png(file);
  }
};

bool is_grey(const cv::Vec3b& p) {
  return p[0] == p[1] && p[1] == p[2];
}

int count(const cv::Mat& picture, const cv::Vec3b& colour) {
  return static_cast<int>(std::count(picture.begin<cv::Vec3b>(), picture.end<cv::Vec3b>(), colour));
}

/// The legend's bar as a reader finds it: the lowest row of many colours, between its dark ends.
struct Legend {
  int row = 0, left = 0, right = 0;

  explicit Legend(const cv::Mat& picture) {
    for (row = picture.rows - 1; row > 0; --row) {
      std::set<std::array<uchar, 3>> colours;
      for (int x = 0; x < picture.cols; ++x) {
        const auto p = picture.at<cv::Vec3b>(row, x);
        if (!is_grey(p)) colours.insert({p[0], p[1], p[2]});
      }
      if (colours.size() > 40) break;
    }
    row -= 5;  // away from the edge of the bar
    while (picture.at<cv::Vec3b>(row, left)[0] > 128) ++left;
    ++left;
    for (right = picture.cols - 1; is_grey(picture.at<cv::Vec3b>(row, right));) --right;
    ++right;
  }

  /// The value that the legend gives a colour: the middle of where it has that colour.
  [[nodiscard]] double value_of(const cv::Mat& picture, const cv::Vec3b& colour, double low,
                                double high) const {
    double sum = 0;
    int found = 0;
    for (int x = left; x < right; ++x)
      if (picture.at<cv::Vec3b>(row, x) == colour) sum += x + 0.5, ++found;
    REQUIRE(found > 0);
    return low + (high - low) * (sum / found - left) / (right - left);
  }
};

}  // namespace

TEST_CASE("the legend gives back the value that a place was painted for") {
  struct Case {
    std::string kind;
    float value;
    double high, step;
  };
  const auto c =
      GENERATE(Case{"difference", 1.9F, 10, 0.15}, Case{"difference", 7.2F, 10, 0.15},
               Case{"lost-ink", 0.23F, 0.5, 0.007}, Case{"residual-added", 0.02F, 1, 0.016},
               Case{"residual-added", 0.6F, 1, 0.016}, Case{"gained-colour", 4, 10, 0.13},
               Case{"bleed-through", 9, 10, 0.13});
  Scene scene;
  scene.values(cv::Rect(50, 100, 100, 100)).setTo(c.value);
  const cv::Mat picture = scene.draw(c.kind);
  // The middle of the sheet, which lies in the middle of the picture's width.
  const cv::Vec3b colour = picture.at<cv::Vec3b>(picture.rows / 2 - 40, picture.cols / 2);
  REQUIRE_FALSE(is_grey(colour));
  CHECK_THAT(Legend(picture).value_of(picture, colour, 0, c.high), WithinAbs(c.value, c.step));
}

TEST_CASE("values that do not reach the scale leave the scan visible") {
  Scene scene;
  scene.values.setTo(1.9F);
  const cv::Mat gained = scene.draw("gained-colour");
  for (int x = 0; x < gained.cols; ++x) REQUIRE(is_grey(gained.at<cv::Vec3b>(gained.rows / 2, x)));
  const cv::Mat difference = scene.draw("difference");
  CHECK_FALSE(is_grey(difference.at<cv::Vec3b>(difference.rows / 2, difference.cols / 2)));
}

TEST_CASE("cells without a value are never coloured, and are hatched where that means a gap") {
  Scene scene;
  scene.values.setTo(kNone);
  const cv::Mat ink = scene.draw("lost-ink");
  const cv::Mat gap = scene.draw("difference");
  const auto greys = [](const cv::Mat& picture) {
    std::set<uchar> found;
    for (int x = picture.cols / 2 - 100; x < picture.cols / 2 + 100; ++x) {
      const auto p = picture.at<cv::Vec3b>(picture.rows / 2, x);
      REQUIRE(is_grey(p));
      found.insert(p[0]);
    }
    return found.size();
  };
  CHECK(greys(ink) == 1);
  CHECK(greys(gap) == 2);
}

TEST_CASE("values beyond the scale are drawn as its end, and the legend's bar gets a point") {
  Scene scene;
  scene.values(cv::Rect(0, 0, 20, 20)).setTo(10.0F);
  const cv::Mat within = scene.draw("difference");
  scene.values(cv::Rect(0, 0, 20, 20)).setTo(17.0F);
  const cv::Mat beyond = scene.draw("difference");
  const map::Rgb& end = map::sequential_scale().back();
  const cv::Vec3b colour(end[0], end[1], end[2]);
  const int point = count(beyond, colour) - count(within, colour);
  CHECK(point > 150);  // a triangle as high and wide as the bar: 26 × 26 / 2
  CHECK(point < 500);
}

TEST_CASE("an uncalibrated map says so on the picture") {
  Scene scene;
  const auto dark = [](const cv::Mat& p) { return cv::countNonZero(p.reshape(1) < 64); };
  const int calibrated = dark(scene.draw("difference"));
  scene.caption.calibrated = false;
  CHECK(dark(scene.draw("difference")) > calibrated + 3 * 4000);  // the plate behind the words
}

TEST_CASE("pictures are of reading size whatever the grid") {
  const cv::Size size =
      GENERATE(cv::Size(20, 30), cv::Size(2600, 1900), cv::Size(1900, 2620), cv::Size(3000, 40));
  Scene scene;
  scene.values = cv::Mat(size, CV_32FC1, cv::Scalar(3));
  scene.srgb = cv::Mat(size, CV_8UC3, cv::Scalar(240, 235, 220));
  const cv::Mat picture = scene.draw("difference");
  CHECK(std::max(picture.cols, picture.rows) <= map::kLongestPx);
  CHECK(std::max(picture.cols, picture.rows) >= map::kLongestPx - 2);
}

TEST_CASE("the same map is written byte for byte the same") {
  Scene scene;
  scene.values(cv::Rect(50, 100, 100, 100)).setTo(4.0F);
  scene.draw("difference");
  const std::string first = test::bytes_of(scene.folder / "map.png");
  scene.draw("difference");
  CHECK(test::bytes_of(scene.folder / "map.png") == first);
}

TEST_CASE("a PNG that does not fit on the disk is an error and leaves nothing") {
  Scene scene;
  {
    const test::SmallDisk disk(3'000);
    try {
      scene.draw("difference");
      FAIL("written to a full disk");
    } catch (const Error& error) {
      CHECK(error.code() == ExitCode::output);
      CHECK_THAT(error.what(), Catch::Contains("map.png"));
    }
  }
  CHECK(std::filesystem::is_empty(scene.folder.path()));
}

TEST_CASE("every kind that has a picture has a style, and position has none") {
  for (const std::string kind :
       {"difference", "lost-ink", "gained-colour", "residual-added", "bleed-through"})
    CHECK_FALSE(map::style_of(kind).title.empty());
  CHECK_THROWS_AS(map::style_of("position"), std::out_of_range);
}
