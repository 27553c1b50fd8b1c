// Protects: a region is the cells whose centres its polygon holds, and one that is off the sheet or
// holds nothing is refused by name.
#include "region/mask.hpp"

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

using namespace inkwane;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;

namespace {

const grid::Geometry kGeometry = grid::make_geometry(1000, 800, 300, 0.1);

Region make_region(std::vector<Point> polygon) {
  Region region;
  region.id = "petals";
  region.line = 40;
  region.polygon = std::move(polygon);
  return region;
}

cv::Mat sheet() {
  // The sheet covers the left two thirds of the scan.
  cv::Mat valid(kGeometry.size(), CV_8UC1, cv::Scalar(0));
  valid.colRange(0, kGeometry.columns * 2 / 3).setTo(255);
  return valid;
}

std::string refusal(const Region& region) {
  try {
    (void)region::make_mask(region, kGeometry, sheet(), "treatment.toml");
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::usage);
    return error.what();
  }
  return "accepted";
}

}  // namespace

TEST_CASE("area is that of the polygon") {
  const double mm2_per_px2 = (25.4 / 300) * (25.4 / 300);
  SECTION("a rectangle") {
    const auto region = make_region({{100, 100}, {400, 100}, {400, 300}, {100, 300}});
    const auto mask = region::make_mask(region, kGeometry, sheet(), "t");
    CHECK_THAT(mask.area_mm2, WithinRel(300 * 200 * mm2_per_px2, 0.01));
  }
  SECTION("a triangle, wound the other way") {
    const auto region = make_region({{100, 100}, {100, 500}, {500, 500}});
    const auto mask = region::make_mask(region, kGeometry, sheet(), "t");
    CHECK_THAT(mask.area_mm2, WithinRel(400 * 400 / 2.0 * mm2_per_px2, 0.01));
    // Below the diagonal, not above it.
    const Point in = kGeometry.to_cell({150, 400}), out = kGeometry.to_cell({400, 150});
    CHECK(mask.inside.at<std::uint8_t>(int(in.y) - mask.bounds.y, int(in.x) - mask.bounds.x) ==
          255);
    CHECK(mask.inside.at<std::uint8_t>(int(out.y) - mask.bounds.y, int(out.x) - mask.bounds.x) ==
          0);
  }
  SECTION("a frame of two arms is not filled between them") {
    const auto region = make_region({{100, 100},
                                     {400, 100},
                                     {400, 400},
                                     {300, 400},
                                     {300, 200},
                                     {200, 200},
                                     {200, 400},
                                     {100, 400}});
    const auto mask = region::make_mask(region, kGeometry, sheet(), "t");
    CHECK_THAT(mask.area_mm2, WithinRel((300 * 300 - 100 * 200) * mm2_per_px2, 0.01));
  }
}

TEST_CASE("only cells on the sheet count") {
  const auto region = make_region({{600, 100}, {700, 100}, {700, 300}, {600, 300}});
  const auto mask = region::make_mask(region, kGeometry, sheet(), "t");
  const double mm2_per_px2 = (25.4 / 300) * (25.4 / 300);
  CHECK_THAT(mask.area_mm2, WithinRel((1000 * 2 / 3.0 - 600) * 200 * mm2_per_px2, 0.02));
}

TEST_CASE("refusals name the file, the line and the region") {
  const auto beside = refusal(make_region({{800, 100}, {900, 100}, {900, 300}}));
  CHECK_THAT(beside, Contains("treatment.toml, line 40") && Contains("\"petals\"") &&
                         Contains("off the sheet"));
  CHECK_THAT(refusal(make_region({{-50, 100}, {90, 100}, {90, 300}})), Contains("leaves the scan"));
  CHECK_THAT(refusal(make_region({{100.1, 100.1}, {100.3, 100.1}, {100.3, 100.3}})),
             Contains("holds no cell"));
}
