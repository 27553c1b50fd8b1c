// Protects patch readings: the colour without dust and edges, an honest standard error, clipping.
#include <cmath>
#include <random>

#include <catch2/catch.hpp>

#include "target/find.hpp"
#include "tests/scan/images.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using namespace inkwane::target;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

/// One patch of 60 px in the middle of 100 × 100, turned by 30°.
Located one_patch() {
  Located located;
  located.centres = {{49.5, 49.5}};
  located.corners = {Point{10, 10}, {10 + std::cos(0.52), 10 + std::sin(0.52)}, {11, 12}, {10, 11}};
  located.patch_px = 36;
  located.usable = {true};
  return located;
}

PatchReading read(const cv::Mat& picture) {
  const TemporaryFolder folder;
  write_tiff(folder / "scan.tif", picture);
  const auto scan = scan::Scan::open(folder / "scan.tif");
  return read_patches(scan, colour::Linearisation::identity(), one_patch()).at(0);
}

}  // namespace

TEST_CASE("a flat patch reads as itself, wherever its surround") {
  cv::Mat picture(100, 100, CV_16UC3, cv::Scalar(60000, 100, 100));
  picture(cv::Rect(20, 20, 60, 60)).setTo(cv::Scalar(10000, 20000, 30000));
  const PatchReading r = read(picture);
  CHECK_THAT(r.linear[0], WithinAbs(10000 / 65535.0, 1e-6));
  CHECK_THAT(r.linear[1], WithinAbs(20000 / 65535.0, 1e-6));
  CHECK_THAT(r.linear[2], WithinAbs(30000 / 65535.0, 1e-6));
  CHECK_THAT(r.standard_error.maxCoeff(), WithinAbs(0, 1e-9));
  CHECK(r.clipped == 0);
  CHECK(r.usable);
}

TEST_CASE("dust does not count") {
  cv::Mat picture(100, 100, CV_16UC3, cv::Scalar(30000, 30000, 30000));
  picture(cv::Rect(45, 45, 9, 9)).setTo(cv::Scalar(2000, 2000, 2000));  // 6 % of what is read
  CHECK_THAT(read(picture).linear[0], WithinAbs(30000 / 65535.0, 1e-6));
}

TEST_CASE("the standard error holds the scatter of means, also where noise is correlated") {
  std::mt19937 random(2);
  std::normal_distribution<double> normal(0, 1);
  for (const int grain : {1, 4}) {  // pixels over which noise is the same
    double squares = 0, stated = 0;
    constexpr int kDraws = 60;
    for (int draw = 0; draw < kDraws; ++draw) {
      cv::Mat picture(100, 100, CV_16UC3);
      for (int y = 0; y < 100; y += grain) {
        for (int x = 0; x < 100; x += grain) {
          const auto v = static_cast<std::uint16_t>(30000 + 1500 * normal(random));
          picture(cv::Rect(x, y, grain, grain)).setTo(cv::Scalar(v, v, v));
        }
      }
      const PatchReading r = read(picture);
      squares += std::pow(r.linear[0] - 30000 / 65535.0, 2);
      stated += r.standard_error[0] * r.standard_error[0];
    }
    const double ratio = std::sqrt(stated / squares);
    CAPTURE(grain, ratio);
    // 60 draws know their scatter to 9 %; four standard deviations. Blocks of few grains understate
    // a little.
    CHECK(ratio > 0.65);
    CHECK(ratio < 1.4);
  }
}

TEST_CASE("clipped pixels are counted at both ends") {
  cv::Mat picture(100, 100, CV_16UC3, cv::Scalar(30000, 30000, 30000));
  picture(cv::Rect(0, 0, 100, 50)).setTo(cv::Scalar(65535, 30000, 30000));
  CHECK_THAT(read(picture).clipped, WithinAbs(0.5, 0.05));
  picture(cv::Rect(0, 0, 100, 50)).setTo(cv::Scalar(30000, 30000, 0));
  CHECK_THAT(read(picture).clipped, WithinAbs(0.5, 0.05));
}
