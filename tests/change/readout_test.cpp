// The numbers of a place pointed at, against what was painted.
#include <cmath>

#include <catch2/catch.hpp>

#include "tests/change/painted_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

/// The read-out's cell that holds a place, in millimetres.
cv::Vec3f at(const cv::Mat& plane, double x_mm, double y_mm) {
  return plane.at<cv::Vec3f>(static_cast<int>(y_mm / 0.5), static_cast<int>(x_mm / 0.5));
}

}  // namespace

TEST_CASE("A read-out holds the colours that were painted and an interval about their difference") {
  SheetPlan plan;
  plan.recto = {{{5, 5, 12, 12}, "cyan", 2}, {{24, 5, 12, 12}, "magenta", 2}};
  plan.stages[1].kept = {{"cyan", 0.5}};
  const PaintedSheet sheet(plan);
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  REQUIRE(output.readout.has_value());
  const change::Readout& read = *output.readout;
  CHECK(read.from == "BT");
  CHECK(read.to == "AT");
  CHECK_THAT(read.geometry.pitch_mm, WithinAbs(0.5, 1e-9));
  CHECK(read.lab_from.size() == read.geometry.size());
  // The first coarse cell covers fine cells 0 to 4, so its middle is that of cell 2.
  const Point middle = sheet.recto.geometry.to_px({2, 2});
  CHECK_THAT(read.geometry.origin_px.x, WithinAbs(middle.x, 1e-9));

  const Paint cyan{{}, "cyan", 2};
  const LabD50 before = sheet.true_lab({cyan}, 0), after = sheet.true_lab({cyan}, 1);
  const cv::Vec3f from = at(read.lab_from, 11, 11), to = at(read.lab_to, 11, 11),
                  found = at(read.difference, 11, 11);
  CHECK(ciede2000(before, {double{from[0]}, double{from[1]}, double{from[2]}}) < 1.5);
  CHECK(ciede2000(after, {double{to[0]}, double{to[1]}, double{to[2]}}) < 1.5);
  const double truth = ciede2000(before, after);
  CHECK_THAT(double{found[0]}, WithinAbs(truth, 0.6));
  CHECK(double{found[1]} < truth);
  CHECK(double{found[2]} > truth);
  CHECK(double{found[1]} > 0);  // a strong change is told
}

TEST_CASE("A read-out's intervals hold no change where there was none, about 19 times in 20") {
  SheetPlan plan;
  plan.recto = {{{5, 5, 50, 12}, "red", 2}};
  const PaintedSheet sheet(plan);
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  REQUIRE(output.readout.has_value());
  int cells = 0, told = 0;
  double widest = 0;
  const cv::Mat& difference = output.readout->difference;
  for (int y = 0; y < difference.rows; ++y) {
    for (int x = 0; x < difference.cols; ++x) {
      const auto& d = difference.at<cv::Vec3f>(y, x);
      if (std::isnan(d[0])) continue;
      ++cells;
      told += d[1] > 0 ? 1 : 0;
      widest = std::max(widest, double{d[2]});
      CHECK(d[1] <= d[0]);
      CHECK(d[0] <= d[2]);
    }
  }
  REQUIRE(cells > 5000);
  // Systematic errors are shared by all cells, so that few are told where any margin is left.
  CHECK(told < 0.1 * cells);
  CHECK(widest < 20);
}

TEST_CASE("A read-out says nothing of places that were not measured") {
  PaintedSheet sheet(SheetPlan{});
  sheet.recto.layers[1].valid(cv::Rect(100, 100, 50, 50)).setTo(0);
  const change::SideOutput output = change::assess_side(sheet.recto, nullptr);
  CHECK(std::isnan(at(output.readout->difference, 12, 12)[0]));
  CHECK_FALSE(std::isnan(at(output.readout->difference, 30, 30)[0]));
}
