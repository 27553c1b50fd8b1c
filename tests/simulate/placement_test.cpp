#include "simulate/placement.hpp"

#include <algorithm>
#include <cmath>

#include <catch2/catch.hpp>

namespace inkwane::simulate {

namespace {

Scene deformed() {
  Scene scene;
  scene.deformation["BT"] = {1, 1, 0, 0.8, 1, -0.5};
  scene.deformation["AT"] = {1.02, 0.99, 1.0, -2, 2, 3};
  return scene;
}

}  // namespace

TEST_CASE("The position field is inverted to a micrometre, strong cockle included") {
  const Scene scene = deformed();
  for (const std::string stage : {"BT", "AT"}) {
    for (const std::string side : kSideNames) {
      const Placement placement(scene, stage, side);
      double worst = 0;
      for (double y = 0; y <= scene.paper.height_mm; y += 13.1) {
        for (double x = 0; x <= scene.paper.width_mm; x += 9.7) {
          worst = std::max(
              worst, cv::norm(placement.to_sheet(placement.to_bed({x, y})) - cv::Point2d(x, y)));
        }
      }
      CHECK(worst < 1e-3);
    }
  }
}

TEST_CASE("Stretch, cockle and rotation are as large as asked for") {
  Scene scene = deformed();
  scene.deformation["AT"].cockle_mm = 0;
  const Placement flat(scene, "AT", "recto");
  CHECK_THAT(cv::norm(flat.to_bed({150, 80}) - flat.to_bed({50, 80})), Catch::WithinAbs(102, 1e-9));
  CHECK_THAT(cv::norm(flat.to_bed({50, 180}) - flat.to_bed({50, 80})), Catch::WithinAbs(99, 1e-9));
  const cv::Point2d along = flat.to_bed({150, 80}) - flat.to_bed({50, 80});
  CHECK_THAT(std::atan2(along.y, along.x) * 180 / 3.14159265358979, Catch::WithinAbs(-2, 1e-6));

  const Cockle cockle(0.5, 7);
  double square = 0;
  int count = 0;
  for (double y = 0; y < 900; y += 11) {
    for (double x = 0; x < 900; x += 11, ++count)
      square += cockle.at({x, y}).dot(cockle.at({x, y}));
  }
  CHECK_THAT(std::sqrt(square / count), Catch::WithinRel(0.25, 0.05));
}

TEST_CASE("Sheet and target lie within the scan, apart from each other, at every turn") {
  for (const double turn : {0.0, 90.0, 180.0, 270.0, 4.0}) {
    for (const bool above : {false, true}) {
      Scene scene = deformed();
      scene.target_turn_deg = turn;
      scene.target_above = above;
      CAPTURE(turn, above);
      for (const std::string& stage : scene.stages) {
        const Placement placement(scene, stage, "recto");
        const double w = scene.paper.width_mm, h = scene.paper.height_mm;
        std::vector<cv::Point2d> places;
        for (const cv::Point2d& p :
             {cv::Point2d(0, 0), cv::Point2d(w, 0), cv::Point2d(w, h), cv::Point2d(0, h)}) {
          places.push_back(placement.to_pixel(p));
        }
        for (const cv::Point2d& p : placement.chart().corners()) {
          places.push_back(placement.card_to_pixel(p));
          const cv::Point2d on_sheet = placement.from_pixel(places.back());
          CHECK((on_sheet.x < 0 || on_sheet.y < 0 || on_sheet.x > w || on_sheet.y > h));
        }
        for (const cv::Point2d& p : places) {
          CHECK((p.x > 0 && p.y > 0 && p.x < placement.scan_size().width &&
                 p.y < placement.scan_size().height));
        }
      }
    }
  }
}

TEST_CASE("Recto and verso are two faces of one sheet") {
  Scene scene;
  CHECK(through_paper(scene, cv::Point2d(10, 20)) == cv::Point2d(scene.paper.width_mm - 10, 20));
  scene.turn = "top";
  CHECK(through_paper(scene, cv::Point2d(10, 20)) == cv::Point2d(10, scene.paper.height_mm - 20));
}

}  // namespace inkwane::simulate
