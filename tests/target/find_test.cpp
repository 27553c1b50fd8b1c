// Protects finding the target: where it is to two pixels, at any turn, size and surround, and a
// refusal that says why where it is not whole.
#include "target/find.hpp"

#include <random>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "charts.hpp"
#include "painted_target.hpp"
#include "tests/scan/images.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using namespace inkwane::target;
using namespace inkwane::test;
using Catch::Matchers::Contains;

namespace {

/// A scan of the painting, on disk.
struct Painted {
  TemporaryFolder folder;
  scan::Scan scan;
  explicit Painted(const cv::Mat& picture, float dpi = 300) : scan(open(folder, picture, dpi)) {}
  static scan::Scan open(const TemporaryFolder& folder, const cv::Mat& picture, float dpi) {
    Tiff how;
    how.x_resolution = how.y_resolution = dpi;
    write_tiff(folder / "scan.tif", picture, how);
    return scan::Scan::open(folder / "scan.tif");
  }
};

double corner_error(const Located& located, const std::array<cv::Point2d, 4>& truth) {
  double worst = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    worst = std::max(
        worst, std::hypot(located.corners[i].x - truth[i].x, located.corners[i].y - truth[i].y));
  }
  return worst;
}

void check_found(const Reference& reference, const Painting& painting, float dpi = 300) {
  const Painted painted(paint(reference, painting), dpi);
  const Located located = find_target(painted.scan, reference);
  CAPTURE(painting.degrees, painting.patch, painting.gap);
  CHECK(corner_error(located, true_corners(reference, painting)) < 2);
  CHECK(located.centres.size() == reference.patches.size());
  CHECK(located.patch_px > 0.4 * painting.patch);
  CHECK(located.patch_px < 0.9 * painting.patch);
  CHECK(located.warnings.empty());
}

void check_refused(const Reference& reference, const Painting& painting, const std::string& words) {
  const Painted painted(paint(reference, painting));
  try {
    (void)find_target(painted.scan, reference);
    FAIL("not refused");
  } catch (const Error& e) {
    CHECK(e.code() == ExitCode::scan);
    CHECK_THAT(e.what(), Contains("scan.tif") && Contains(words) && Contains("corners"));
  }
}

}  // namespace

TEST_CASE("at every quarter turn, tilted a few degrees") {
  const Reference reference = chart();
  Painting p;
  for (const double degrees : {-4.0, 0.0, 3.0}) {
    p.first = {300, 250};
    p.degrees = degrees;
    check_found(reference, p);
    p.first = {650, 200};
    p.degrees = 90 + degrees;
    check_found(reference, p);
    p.first = {750, 600};
    p.degrees = 180 + degrees;
    check_found(reference, p);
    p.first = {350, 650};
    p.degrees = 270 + degrees;
    check_found(reference, p);
  }
}

TEST_CASE("dark and light cards, dark and light surrounds, wide gaps, narrow ones and none") {
  const Reference reference = chart();
  const cv::Vec3d dark(0.05, 0.05, 0.05), grey(0.5, 0.5, 0.5), white(0.95, 0.95, 0.95);
  Painting p;
  p.degrees = 2;
  for (const auto& card : {dark, grey, white}) {
    for (const auto& backing : {dark, white}) {
      p.card = card;
      p.backing = backing;
      for (const double gap : {15.0, 3.0, 0.0}) {
        p.gap = gap;
        check_found(reference, p);
      }
    }
  }
}

TEST_CASE("coarse and fine scans, and targets of other sizes") {
  Painting small;
  small.size = {400, 335};
  small.first = {120, 80};
  small.patch = 22;
  small.gap = 3;
  small.border = 12;
  check_found(chart(), small, 150);

  Painting large;
  large.size = {2000, 1600};
  large.first = {420, 380};
  large.patch = 170;
  large.gap = 20;
  large.degrees = -3;
  check_found(chart(), large, 600);

  Painting other;
  other.patch = 50;
  check_found(chart(3, 4), other);
  other.size = {1200, 900};
  other.first = {200, 150};
  other.patch = 40;
  other.degrees = 1;
  check_found(chart(10, 14), other);
  check_found(chart(6, 3), other);
}

TEST_CASE("among printed blocks of colour on a sheet") {
  const Reference reference = chart();
  Painting p;
  p.size = {1600, 900};
  p.first = {1000, 300};
  p.sheet.push_back({cv::Rect(20, 20, 800, 860), {0.9, 0.87, 0.78}});
  std::mt19937 random(4);
  std::uniform_real_distribution<double> c(0.1, 0.9);
  std::vector<std::pair<cv::Rect, cv::Vec3d>> blocks;
  for (int row = 0; row < 8; ++row) {
    for (int column = 0; column < 7; ++column) {
      blocks.push_back(
          {cv::Rect(60 + 105 * column, 50 + 100 * row, 80, 75), {c(random), c(random), c(random)}});
    }
  }
  p.sheet.insert(p.sheet.begin(), blocks.begin(), blocks.end());
  check_found(reference, p);

  // The blocks alone are no target, though they stand in rows and columns.
  p.first = {5000, 5000};
  check_refused(reference, p, "no target of 4 × 6");
}

TEST_CASE("in light of another colour, and dim") {
  const Reference reference = chart();
  Painting p;
  p.cast = [](const cv::Vec3d& c) {
    return cv::Vec3d(0.75 * c[0] + 0.03, 0.70 * c[1], std::max(0.0, 0.55 * c[2] - 0.01));
  };
  check_found(reference, p);
}

TEST_CASE("the card's border is taken for the card, and not the sheet beside it") {
  const Reference reference = chart();
  Painting p;
  p.degrees = 3;
  const Painted painted(paint(reference, p));
  const Located located = find_target(painted.scan, reference);
  std::vector<cv::Point2f> outline;
  for (const Point& q : located.card) outline.emplace_back(cv::Point2d(q.x, q.y));
  REQUIRE(outline.size() == 4);
  for (const cv::Point2d& corner : true_card(reference, p)) {
    // Positive inside: the card's corner may stand out by a pixel, and be passed by a few.
    const double inside = cv::pointPolygonTest(outline, cv::Point2f(corner), true);
    CHECK(inside > -1.5);
    CHECK(inside < 0.2 * p.patch);
  }

  // A border that cannot be told from the backing: half a patch.
  p.card = p.backing;
  const Painted alike(paint(reference, p));
  const Located plain = find_target(alike.scan, reference);
  const double reach = std::hypot(plain.card[0].x - p.first.x, plain.card[0].y - p.first.y);
  CHECK(reach > 0.5 * p.patch);
  CHECK(reach < 1.0 * p.patch);
}

TEST_CASE("one soiled patch is left out with a warning") {
  const Reference reference = chart();
  Painting p;
  // B2 lies at column 1, row 1.
  const double pitch = p.patch + p.gap;
  p.covers.push_back({cv::Rect(static_cast<int>(p.first.x + pitch) + 10,
                               static_cast<int>(p.first.y + pitch) + 10, 25, 25),
                      {0.2, 0.15, 0.1}});
  const Painted painted(paint(reference, p));
  const Located located = find_target(painted.scan, reference);
  CHECK(corner_error(located, true_corners(reference, p)) < 2);
  REQUIRE(located.warnings.size() == 1);
  CHECK_THAT(located.warnings[0], Contains("B2"));
  CHECK_FALSE(located.usable[7]);
  const auto readings =
      read_patches(painted.scan, colour::Linearisation::from_profile({}, "scan.tif"), located);
  CHECK_FALSE(readings[7].usable);
  CHECK(readings[6].usable);
}

TEST_CASE("refusals say what is wrong") {
  const Reference reference = chart();
  SECTION("nothing there") {
    Painting p;
    p.first = {5000, 5000};
    check_refused(reference, p, "no target");
  }
  SECTION("half covered") {
    Painting p;
    p.covers.push_back({cv::Rect(250, 200, 200, 330), {0.35, 0.45, 0.25}});
    check_refused(reference, p, "covered");
  }
  SECTION("a corner under the sheet") {
    Painting p;
    p.covers.push_back({cv::Rect(240, 190, 200, 130), {0.9, 0.88, 0.8}});
    check_refused(reference, p, "covered");
  }
  SECTION("cut by the frame, on each side") {
    Painting p;
    for (const cv::Point2d first : {cv::Point2d(-40, 250), {300, -40}, {680, 250}, {300, 640}}) {
      p.first = first;
      check_refused(reference, p, "in the frame");
    }
  }
  SECTION("mirrored") {
    Painting p;
    p.mirrored = true;
    p.first = {750, 250};
    for (const double degrees : {0.0, 2.0}) {
      p.degrees = degrees;
      check_refused(reference, p, "mirrored");
    }
  }
  SECTION("another target") {
    Reference other = reference;
    std::mt19937 random(8);
    std::shuffle(other.patches.begin(), other.patches.end(), random);
    const Painted painted(paint(other, {}));
    CHECK_THROWS_WITH(find_target(painted.scan, reference), Contains("do not fit the reference"));
  }
}

TEST_CASE("corners given by hand") {
  const Reference reference = chart();
  Painting p;
  p.degrees = 4;
  const Painted painted(paint(reference, p));
  const auto truth = true_corners(reference, p);
  Corners given;
  for (std::size_t i = 0; i < 4; ++i) {
    given[i] = {truth[i].x + (i % 2 ? 5.0 : -4.0), truth[i].y + (i < 2 ? 4.0 : -6.0)};
  }
  // Placed by eye to a few pixels, they are moved onto the patches' edges.
  CHECK(corner_error(locate_from_corners(painted.scan, reference, given), truth) < 2);

  const auto refused = [&](const Corners& corners, ExitCode code, const std::string& words) {
    try {
      (void)locate_from_corners(painted.scan, reference, corners);
      FAIL("not refused");
    } catch (const Error& e) {
      CHECK(e.code() == code);
      CHECK_THAT(e.what(), Contains("scan.tif") && Contains(words));
    }
  };
  refused({given[1], given[2], given[3], given[0]}, ExitCode::scan, "in this order");
  refused({given[1], given[0], given[3], given[2]}, ExitCode::scan, "in this order");
  refused({given[0], given[2], given[1], given[3]}, ExitCode::usage, "do not go round");
  refused({Point{20, 20}, {120, 20}, {120, 90}, {20, 90}}, ExitCode::scan, "colours");
  refused({Point{-200, 20}, {120, 20}, {120, 90}, {20, 90}}, ExitCode::usage, "outside");
}
