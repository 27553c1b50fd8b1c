// Protects: bare paper tells the stray light it lies in, and nothing else is taken for stray light.
// Truth: a sheet painted here, its stray light summed by OpenCV's filter, not by the room's kernel.
#include "scanner/paper_fit.hpp"

#include <cmath>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

using Catch::Matchers::WithinAbs;
using namespace inkwane;

namespace {

constexpr double kPitchMm = 0.25;

/// A printed sheet of 120 × 90 mm on a dark bed, in cells of 0.25 mm, with paper's grain.
cv::Mat sheet(double grain, std::uint64_t seed) {
  cv::Mat light(440, 560, CV_32FC3, cv::Scalar::all(0.035));
  light(cv::Rect(40, 40, 480, 360)).setTo(cv::Scalar(0.80, 0.76, 0.66));
  for (const cv::Rect& print :
       {cv::Rect(80, 90, 120, 100), cv::Rect(300, 70, 90, 90), cv::Rect(220, 250, 220, 60)}) {
    light(print).setTo(cv::Scalar(0.12, 0.10, 0.15));
  }
  cv::Mat noise(light.size(), CV_32FC1);
  cv::RNG random(seed);
  random.fill(noise, cv::RNG::NORMAL, 0, 1);
  cv::GaussianBlur(noise, noise, {}, 2);
  noise *= grain * std::sqrt(static_cast<double>(noise.total())) / cv::norm(noise);
  std::vector<cv::Mat> channels;
  cv::split(light, channels);
  for (cv::Mat& channel : channels) channel = channel.mul(noise + 1);
  cv::merge(channels, light);
  return light;
}

cv::Mat haze(const cv::Mat& light, double length_mm) {
  const int reach = static_cast<int>(6 * length_mm / kPitchMm);
  cv::Mat kernel(2 * reach + 1, 2 * reach + 1, CV_32FC1), out;
  for (int y = -reach; y <= reach; ++y) {
    for (int x = -reach; x <= reach; ++x) {
      kernel.at<float>(y + reach, x + reach) =
          static_cast<float>(std::exp(-std::hypot(x, y) * kPitchMm / length_mm));
    }
  }
  kernel /= cv::sum(kernel)[0];
  cv::filter2D(light, out, CV_32F, kernel, {-1, -1}, 0, cv::BORDER_REPLICATE);
  return out;
}

scanner::CoarseLight seen(cv::Mat light, double kappa) {
  if (kappa > 0) {
    const cv::Mat gain = (haze(light, 4) * kappa + cv::Scalar::all(1)) / (1 + kappa / 2);
    light = light.mul(gain);
  }
  return {light, kPitchMm, 3, {1, 1}};
}

std::optional<scanner::StrayLightEstimate> told(const cv::Mat& light, double kappa) {
  const scanner::PaperEvidence evidence = scanner::look_at_paper(seen(light, kappa), {});
  return scanner::tell_by_paper({&evidence, 1});
}

}  // namespace

TEST_CASE("Paper tells the strength of stray light", "[paper]") {
  const double kappa = GENERATE(0.0, 0.13, 0.26, 0.4);
  CAPTURE(kappa);
  const auto found = told(sheet(0.01, 5), kappa);
  REQUIRE(found);
  CAPTURE(found->value.kappa, found->u_kappa, found->value.length_mm);
  CHECK_THAT(found->value.kappa, WithinAbs(kappa, 0.03 + 0.25 * kappa));
  CHECK_THAT(found->value.kappa, WithinAbs(kappa, 2 * found->u_kappa));
  CHECK(found->u_kappa < 0.06 + 0.25 * kappa);  // not so wide that it says nothing
}

TEST_CASE("Browned edges of old paper are not taken for stray light", "[paper]") {
  cv::Mat light = sheet(0.01, 6);
  // Along its edges, within 12 mm, red falls by 3 %, green by 6 %, blue by 10 %.
  for (int j = 40; j < 400; ++j) {
    for (int i = 40; i < 520; ++i) {
      const double edge_mm = kPitchMm * std::min({i - 40, 519 - i, j - 40, 399 - j});
      const double brown = std::max(0.0, 1 - edge_mm / 12);
      auto& v = light.at<cv::Vec3f>(j, i);
      v[0] *= static_cast<float>(1 - 0.03 * brown);
      v[1] *= static_cast<float>(1 - 0.06 * brown);
      v[2] *= static_cast<float>(1 - 0.10 * brown);
    }
  }
  const auto found = told(light, 0);
  REQUIRE(found);
  CAPTURE(found->value.kappa, found->u_kappa);
  CHECK_THAT(found->value.kappa, WithinAbs(0, 0.06));
}

TEST_CASE("A slope of the lamp is not taken for stray light", "[paper]") {
  cv::Mat light = sheet(0.01, 7);
  for (int j = 0; j < light.rows; ++j) {
    light.row(j) *= 1 + 0.04 * (static_cast<double>(j) / light.rows - 0.5);
  }
  const auto found = told(light, 0);
  REQUIRE(found);
  CHECK_THAT(found->value.kappa, WithinAbs(0, 0.05));
}

TEST_CASE("Where there is too little paper nothing is told", "[paper]") {
  cv::Mat light = sheet(0.01, 8);
  for (int j = 0; j < light.rows; ++j) {  // type and pictures all over it
    for (int i = 0; i < light.cols; ++i) {
      if ((i / 8 + j / 8) % 2 == 0) light.at<cv::Vec3f>(j, i) *= 0.4F;
    }
  }
  CHECK_FALSE(told(light, 0.26));
}
