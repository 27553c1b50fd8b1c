#include "simulate/draw.hpp"

#include <cmath>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include "simulate/forms.hpp"
#include "simulate/print.hpp"

namespace inkwane::simulate {

using Catch::WithinAbs;

namespace {

/// Share of a window that a screen of full cells covers.
double covered(double lpi, double angle, double coverage, DotShape dot) {
  const Window window{{0.3, 0.7}, 0.02, {700, 700}};
  cv::Mat mask(window.size, CV_8UC1, cv::Scalar(255));
  Screen(lpi, angle, coverage, dot).multiply(mask, window, {0, 0, 700, 700});
  return cv::mean(mask)[0] / 255;
}

}  // namespace

TEST_CASE("Screens cover the share they are asked for") {
  for (const DotShape dot : {DotShape::chequer, DotShape::round, DotShape::elliptical}) {
    for (const double coverage : {0.05, 0.3, 0.5, 0.72, 0.95}) {
      for (const double lpi : {65.0, 133.0}) {
        CAPTURE(static_cast<int>(dot), coverage, lpi);
        // 14 mm hold whole periods to about 1 %; soft edges are straight pieces of curved dots.
        CHECK_THAT(covered(lpi, 37, coverage, dot), WithinAbs(coverage, 0.006));
      }
    }
  }
  CHECK(covered(85, 45, 0, DotShape::chequer) == 0);
  CHECK_THAT(covered(85, 45, 1, DotShape::chequer), WithinAbs(1, 1e-12));
}

TEST_CASE("A screen has its ruling and angle") {
  const Window window{{0, 0}, 0.025, {1024, 1024}};
  cv::Mat mask(window.size, CV_8UC1, cv::Scalar(255)), spectrum;
  Screen(85, 30, 0.4, DotShape::round).multiply(mask, window, {0, 0, 1024, 1024});
  mask.convertTo(spectrum, CV_32F);
  cv::dft(spectrum - cv::mean(spectrum), spectrum, cv::DFT_COMPLEX_OUTPUT);
  std::vector<cv::Mat> parts;
  cv::split(spectrum, parts);
  cv::magnitude(parts[0], parts[1], parts[0]);
  cv::Point peak;
  // The lattice's two vectors lie at 30° and 120°; rows up to half are the positive frequencies.
  cv::minMaxLoc(parts[0](cv::Rect(0, 0, 512, 512)), nullptr, nullptr, nullptr, &peak);
  const double per_mm = cv::norm(peak) / (1024 * window.pitch_mm);
  CHECK_THAT(per_mm * 25.4, WithinAbs(85, 1));
  CHECK_THAT(std::atan2(peak.y, peak.x) * 180 / 3.14159265, WithinAbs(30, 1));
}

TEST_CASE("Areas are drawn where and as large as they are") {
  const Window window{{-1, -1}, 0.05, {400, 300}};
  const cv::Rect all(0, 0, 400, 300);
  const auto area_mm2 = [&](const Area& area) {
    return cv::sum(Shape(area).coverage(window, all))[0] / 255 * 0.05 * 0.05;
  };
  CHECK_THAT(area_mm2(solid(box(2.01, 3.02, 4.53, 5.5), "red")), WithinAbs(4.53 * 5.5, 0.03));
  CHECK_THAT(area_mm2(solid(ellipse({8, 6}, 3, 2, 20), "red")), WithinAbs(3.1416 * 6, 0.06));
  Area holed = solid(box(2, 2, 6, 6), "red");
  holed.holes.push_back(box(4, 4, 2, 2));
  CHECK_THAT(area_mm2(holed), WithinAbs(32, 0.03));
  CHECK_THAT(area_mm2(line(box(3, 3, 5, 5), "red", 0.4)), WithinAbs(5.4 * 5.4 - 4.6 * 4.6, 0.03));

  const cv::Mat mask = Shape(solid(box(2, 3, 1, 1), "red")).coverage(window, all);
  CHECK(mask.at<std::uint8_t>(80, 60) == 255);  // its first cell
  CHECK(mask.at<std::uint8_t>(79, 60) == 0);
  CHECK(mask.at<std::uint8_t>(80, 59) == 0);
}

TEST_CASE("Lettering is drawn far from the origin, and in lines of its width") {
  const Window window{{100, 200}, 0.1, {500, 300}};
  const Area words = lettering({102, 202}, "Seeds and bulbs of our own growing, by the packet", 3,
                               "DejaVu Serif", Text::Align::left, 40);
  const cv::Mat mask = Shape(words).coverage(window, {0, 0, 500, 300});
  std::vector<cv::Point> inked;
  cv::findNonZero(mask > 128, inked);
  REQUIRE(inked.size() > 1000);
  const cv::Rect bounds = cv::boundingRect(inked);
  CHECK(bounds.x >= 18);
  CHECK(bounds.br().x <= 422);  // 40 mm and what a letter may overhang
  CHECK(bounds.width > 300);
  CHECK(bounds.height > 60);  // more than one line
}

TEST_CASE("One plate prints an area once, and what is left out takes back only what was before") {
  Scene scene;
  scene.recto = {solid(box(0, 0, 4, 4), "red"), solid(box(2, 0, 4, 4), "red"),
                 left_out(box(1, 1, 2, 2)), solid(box(2.5, 1, 3, 1), "red")};
  const Print print(scene, "recto");
  REQUIRE(print.plates().size() == 1);
  const auto amounts = print.amounts({{0, 0}, 0.1, {60, 40}});
  const cv::Mat& red = amounts.at("red");
  CHECK(red.at<float>(5, 30) == 1);   // where two areas overlap
  CHECK(red.at<float>(15, 15) == 0);  // left out
  CHECK(red.at<float>(15, 27) == 1);  // printed again
}

TEST_CASE("A screen on paper lies between spread-free and fully spread light") {
  Scene scene;
  scene.recto = {screened(box(0, 0, 20, 20), "blue", 85, 45, 0.5)};
  const Print print(scene, "recto");
  Films films(scene, print, "BT");
  films.prepare(1);
  const Window window{{5, 5}, 0.02, {400, 400}};
  const auto masks = print.masks(window, 0.05, false);
  FilmRow row(masks, 400);
  double sum = 0;
  constexpr int kBand = 20;  // 600 nm, where blue absorbs
  PaddedSpectrum share;
  for (int j = 0; j < 400; ++j) {
    row.enter(j);
    for (int i = 0; i < 400; ++i) {
      row.passed(films, i, share);
      sum += static_cast<double>(share.band[kBand]);
    }
  }
  const double got = sum / (400 * 400);
  const double film = static_cast<double>(films.of(1).band[kBand]);
  const double sharp = 0.5 + 0.5 * film * film;                   // Murray–Davies
  const double spread = (0.5 + 0.5 * film) * (0.5 + 0.5 * film);  // Yule–Nielsen, n = 2
  CHECK(got < sharp - 0.1 * (sharp - spread));
  CHECK(got > spread + 0.1 * (sharp - spread));
}

}  // namespace inkwane::simulate
