// Protects the outline of the sheet: any backing, printed frames, torn corners, the target's card,
// and frames that the sheet fills.
#include "align/outline.hpp"

#include <algorithm>
#include <cmath>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "made_sheet.hpp"

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {

double furthest_corner_mm(const align::Outline& found, const align::Outline& truth,
                          double pitch_mm) {
  double most = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    most = std::max(
        most, std::hypot(found.quad[i].x - truth.quad[i].x, found.quad[i].y - truth.quad[i].y));
  }
  return most * pitch_mm;
}

double overlap(const cv::Mat& a, const cv::Mat& b) {
  return static_cast<double>(cv::countNonZero(a & b)) / cv::countNonZero(a | b);
}

struct Backing {
  const char* name;
  cv::Vec3d backing, paper;
  double shadow_mm, corner_mm;
};

}  // namespace

TEST_CASE("the outline is found on dark, grey and white backings", "[align][outline]") {
  // A corner is the crossing of two lines through some sixty edge places each; a tenth of a
  // millimetre is a cell. On a white backing the shadow blurs the edge.
  const Backing backing = GENERATE(
      Backing{"dark", {0.01, 0.01, 0.01}, {0.80, 0.76, 0.66}, 0, 0.05},
      Backing{"grey", {0.30, 0.30, 0.30}, {0.80, 0.76, 0.66}, 0, 0.05},
      Backing{"white", {0.88, 0.89, 0.89}, {0.80, 0.76, 0.66}, 0.4, 0.1},
      Backing{"cream on white", {0.88, 0.89, 0.89}, {0.86, 0.845, 0.80}, 0.4, 0.1},
      Backing{"cream on white, no shadow", {0.88, 0.89, 0.89}, {0.86, 0.845, 0.80}, 0, 0.1});
  const bool printed = GENERATE(true, false);
  const double tilt = GENERATE(0.0, 1.3, -4.0);
  CAPTURE(backing.name, printed, tilt);
  const made::Sheet sheet = printed ? made::draw_sheet(60, 80, 1, 2) : made::bare_sheet(60, 80, 2);
  made::State state;
  state.paper = backing.paper;
  made::Lay lay;
  lay.backing = backing.backing;
  lay.shadow_mm = backing.shadow_mm;
  lay.tilt_degrees = tilt;
  lay.frame_mm[0] = 82;
  lay.frame_mm[1] = 102;
  lay.shift_mm[0] = lay.shift_mm[1] = 11;
  const grid::Grid grid = made::scan_sheet(sheet, state, lay);
  const align::Outline truth = made::true_outline(sheet, lay, grid);

  const align::Outline found = align::find_outline(grid, "scan.tif");

  CHECK_FALSE(found.whole_frame);
  CHECK(furthest_corner_mm(found, truth, 0.1) < backing.corner_mm);
  CHECK(overlap(found.sheet, truth.sheet) > 0.99);
  CHECK_THAT(found.width_mm, WithinAbs(60, 0.1));
  CHECK_THAT(found.height_mm, WithinAbs(80, 0.1));
  CHECK(found.warnings.empty());
}

TEST_CASE("a torn corner is left out of the sheet and does not move its corners",
          "[align][outline]") {
  const made::Sheet sheet = made::draw_sheet(60, 80, 1, 2);
  made::Lay lay;
  lay.torn_mm = 4;
  const grid::Grid grid = made::scan_sheet(sheet, {}, lay);
  const align::Outline truth = made::true_outline(sheet, lay, grid);

  const align::Outline found = align::find_outline(grid, "scan.tif");

  CHECK(furthest_corner_mm(found, truth, 0.1) < 0.05);
  CHECK(found.sheet.at<uchar>(90, 90) == 0);      // 1 mm inside the corner that is gone
  CHECK(found.sheet.at<uchar>(110, 110) == 255);  // 3 mm inside: paper again
}

TEST_CASE("the target's card beside the sheet is not taken for it", "[align][outline]") {
  const made::Sheet sheet = made::draw_sheet(60, 80, 1, 2);
  made::Lay lay;
  lay.frame_mm[0] = 150;
  grid::Grid grid = made::scan_sheet(sheet, {}, lay);
  const align::Outline truth = made::true_outline(sheet, lay, grid);
  // A white card, larger than the sheet, 3 mm beside it.
  const cv::Rect card(710, 20, 760, 920);
  cv::Mat light = grid.light.clone();
  light(card).setTo(cv::Scalar(0.9, 0.9, 0.9));
  grid = made::grid_of(light, 0.1);

  SECTION("where the card is known exactly") {
    grid.target(card).setTo(255);
  }
  SECTION("where it is thought 4 mm wider than it is, and so reaches onto the sheet") {
    grid.target(cv::Rect(670, 0, 830, 960)).setTo(255);
  }
  const align::Outline found = align::find_outline(grid, "scan.tif");

  CHECK(furthest_corner_mm(found, truth, 0.1) < 0.05);
  CHECK(overlap(found.sheet, truth.sheet) > 0.99);
}

TEST_CASE("a card that lies on the sheet is cut out of it", "[align][outline]") {
  const made::Sheet sheet = made::draw_sheet(60, 80, 1, 2);
  const made::Lay lay;
  grid::Grid grid = made::scan_sheet(sheet, {}, lay);
  const cv::Rect card(300, 400, 200, 150);
  grid.target(card).setTo(255);

  const align::Outline found = align::find_outline(grid, "scan.tif");

  CHECK(cv::countNonZero(found.sheet(card)) == 0);
  CHECK(furthest_corner_mm(found, made::true_outline(sheet, lay, grid), 0.1) < 0.05);
}

TEST_CASE("a printed frame does not pass for the sheet's edge where the sheet fills the scan",
          "[align][outline]") {
  const made::Sheet sheet = made::draw_sheet(60, 80, 1, 2);
  const made::Lay lay;
  const grid::Grid whole = made::scan_sheet(sheet, {}, lay);
  const grid::Grid grid =
      made::cut(whole, {95, 95, 570, 770});  // 1.5 mm inside the sheet all around

  const align::Outline found = align::find_outline(grid, "scan.tif");

  CHECK(found.whole_frame);
  CHECK(cv::countNonZero(found.sheet) == 570 * 770);
  CHECK_THAT(found.quad[0].x, WithinAbs(-0.5, 1e-9));
  CHECK_THAT(found.quad[2].y, WithinAbs(769.5, 1e-9));
}

TEST_CASE("a sheet that leaves the frame on one side is said to", "[align][outline]") {
  const made::Sheet sheet = made::draw_sheet(60, 80, 1, 2);
  const made::Lay lay;
  const grid::Grid grid = made::cut(made::scan_sheet(sheet, {}, lay), {0, 0, 600, 960});

  const align::Outline found = align::find_outline(grid, "scan.tif");

  CHECK_FALSE(found.whole_frame);
  REQUIRE(found.warnings.size() == 1);
  CHECK_THAT(found.warnings[0], Catch::Contains("right edge"));
  CHECK_THAT(found.quad[0].x, WithinAbs(79.5, 0.5));
}

TEST_CASE("an empty bed is refused", "[align][outline]") {
  const grid::Grid grid =
      made::grid_of(cv::Mat(600, 500, CV_32FC3, cv::Scalar(0.01, 0.01, 0.01)), 0.1);
  try {
    (void)align::find_outline(grid, "empty.tif");
    FAIL("no error");
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::scan);
    CHECK_THAT(error.what(), Catch::Contains("empty.tif") && Catch::Contains("no sheet"));
  }
}

TEST_CASE("corners given by hand count in place of what would be found", "[align][outline]") {
  const made::Sheet sheet = made::draw_sheet(60, 80, 1, 2);
  const made::Lay lay;
  const grid::Grid grid = made::scan_sheet(sheet, {}, lay);
  const align::Outline truth = made::true_outline(sheet, lay, grid);
  Corners corners;
  for (std::size_t i = 0; i < 4; ++i) corners[i] = grid.geometry.to_px(truth.quad[i]);

  const align::Outline given = align::outline_from_corners(grid, corners, "scan.tif");

  CHECK(furthest_corner_mm(given, truth, 0.1) < 1e-6);
  CHECK(overlap(given.sheet, truth.sheet) > 0.995);
  CHECK_THAT(given.width_mm, WithinAbs(60, 0.01));
  CHECK_FALSE(given.whole_frame);

  const auto refusal = [&grid](const Corners& wrong) -> std::string {
    try {
      (void)align::outline_from_corners(grid, wrong, "scan.tif");
    } catch (const Error& error) {
      CHECK(error.code() == ExitCode::usage);
      return error.what();
    }
    return "accepted";
  };
  Corners beyond = corners;
  beyond[1].x += 5000;
  CHECK_THAT(refusal(beyond), Catch::Contains("scan.tif") && Catch::Contains("leaves the scan"));
  CHECK_THAT(refusal({Point{10, 10}, {30, 10}, {30, 30}, {10, 30}}), Catch::Contains("only"));
}
