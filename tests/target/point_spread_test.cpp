// Protects the point spread: that of a scan blurred by a known Gaussian, and a sharpened scan seen
// for what it is.
#include "target/point_spread.hpp"

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include "charts.hpp"
#include "colour/srgb.hpp"
#include "painted_target.hpp"
#include "tests/scan/images.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using namespace inkwane::target;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double kScale = 65535;

cv::Mat through(const cv::Mat& picture, double (*curve)(double), double from, double to, int type) {
  cv::Mat result(picture.size(), type);
  cv::Mat values;
  picture.convertTo(values, CV_64FC3, 1 / from);
  values.forEach<cv::Vec3d>([curve](cv::Vec3d& v, const int*) {
    for (int c = 0; c < 3; ++c) v[c] = curve(std::clamp(v[c], 0.0, 1.0));
  });
  values.convertTo(result, type, to);
  return result;
}

/// The target painted in a fine picture, blurred and averaged to pixels in linear light, and
/// sharpened by an unsharp mask of that strength.
std::optional<PointSpread> spread_of(double degrees, double blur_px, double sharpening) {
  constexpr int kFine = 4;
  const Reference reference = chart();
  Painting painting;
  painting.noise = 0;
  painting.degrees = degrees;
  painting.size = {560 * kFine, 560 * kFine};
  painting.first = degrees > 45 ? cv::Point2d(440.3 * kFine, 80.6 * kFine)
                                : cv::Point2d(90.3 * kFine, 130.6 * kFine);
  painting.patch = 50.4 * kFine;
  painting.gap = 8.3 * kFine;
  painting.border = 30 * kFine;
  cv::Mat fine = through(paint(reference, painting), colour::srgb_to_linear, kScale, 1, CV_32FC3);
  cv::GaussianBlur(fine, fine, {}, blur_px * kFine);
  cv::Mat light;
  cv::resize(fine, light, {}, 1.0 / kFine, 1.0 / kFine, cv::INTER_AREA);
  if (sharpening > 0) {
    cv::Mat soft;
    cv::GaussianBlur(light, soft, {}, 1.5);
    light += sharpening * (light - soft);
  }
  const cv::Mat encoded = through(light, colour::linear_to_srgb, 1, kScale, CV_16UC3);
  const TemporaryFolder folder;
  write_tiff(folder / "scan.tif", encoded);
  const auto scan = scan::Scan::open(folder / "scan.tif");
  return measure_point_spread(scan, ScanColour::uncalibrated(profile()),
                              find_target(scan, reference));
}

}  // namespace

TEST_CASE("the blur of the edges is found, at any tilt") {
  for (const double degrees : {0.4, 3.0, 90.5}) {
    for (const double blur : {0.5, 0.9}) {
      const auto spread = spread_of(degrees, blur, 0);
      CAPTURE(degrees, blur);
      REQUIRE(spread);
      // 6 %: edges fall on the pixels in a few ways only.
      CHECK_THAT(spread->sigma_px[0], WithinAbs(blur, 0.06 * blur));
      CHECK_THAT(spread->sigma_px[1], WithinAbs(blur, 0.06 * blur));
      CHECK(spread->u_sigma_px < 0.05);
      CHECK(spread->overshoot < 0.006);
    }
  }
}

TEST_CASE("a sharpened scan overshoots") {
  const auto spread = spread_of(0.4, 0.7, 0.8);
  REQUIRE(spread);
  CHECK(spread->overshoot > 0.02);
}

TEST_CASE("scans are pooled by how sure they are") {
  const std::vector<PointSpread> scans{{{0.50, 0.60}, 0.02, 0}, {{0.56, 0.66}, 0.04, 0}};
  const PointSpread all = pooled(scans);
  CHECK_THAT(all.sigma_px[0], WithinAbs(0.512, 1e-9));  // weights 4 : 1
  CHECK_THAT(all.sigma_px[1], WithinAbs(0.612, 1e-9));
  CHECK_THAT(all.u_sigma_px, WithinAbs(0.03 * 0.612, 1e-3));
}
