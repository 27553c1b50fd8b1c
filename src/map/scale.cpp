#include "map/scale.hpp"

#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

#include "colour/icc.hpp"

namespace inkwane::map {
namespace {

/// A cubic Bézier curve in CIELAB D50; the end points are met.
using Curve = std::array<LabD50, 4>;

// All of each curve lies inside the gamut of sRGB (least channel 0.01, largest 0.94 in light), so
// nothing is clipped on the way to the screen. The light end stays darker than the faded scan.
constexpr Curve kAmounts{{{84, 6, 58}, {72, 40, 62}, {42, 75, 8}, {17, 20, -30}}};
constexpr Curve kRises{{{94, 0, 1}, {80, 20, 40}, {55, 40, 50}, {28, 28, 28}}};
constexpr Curve kFalls{{{94, 0, 1}, {80, -12, -24}, {54, -8, -44}, {28, 6, -36}}};

LabD50 point_at(const Curve& curve, double t) {
  const std::array<double, 4> weight{std::pow(1 - t, 3), 3 * t * (1 - t) * (1 - t),
                                     3 * t * t * (1 - t), std::pow(t, 3)};
  LabD50 point;
  for (std::size_t i = 0; i < curve.size(); ++i) {
    point.L += weight[i] * curve[i].L;
    point.a += weight[i] * curve[i].a;
    point.b += weight[i] * curve[i].b;
  }
  return point;
}

/// `count` points from end to end of the curve, equally far apart in CIEDE2000 along it.
std::vector<LabD50> even_steps(const Curve& curve, int count) {
  constexpr int kFine = 4000;
  std::vector<double> length{0};
  for (int i = 1; i <= kFine; ++i) {
    const double step =
        ciede2000(point_at(curve, (i - 1.0) / kFine), point_at(curve, i * 1.0 / kFine));
    length.push_back(length.back() + step);
  }
  std::vector<LabD50> points;
  for (int k = 0; k < count; ++k) {
    const double wanted = length.back() * k / (count - 1.0);
    const auto at = std::lower_bound(length.begin(), length.end() - 1, wanted);
    points.push_back(point_at(curve, static_cast<double>(at - length.begin()) / kFine));
  }
  return points;
}

Scale to_scale(std::span<const LabD50> points) {
  cv::Mat xyz(1, kScaleSteps, CV_32FC3);
  for (int i = 0; i < kScaleSteps; ++i) {
    const XyzD50 p = to_xyz(points[static_cast<std::size_t>(i)]);
    xyz.at<cv::Vec3f>(i) = {static_cast<float>(p.X), static_cast<float>(p.Y),
                            static_cast<float>(p.Z)};
  }
  const cv::Mat srgb = colour::to_srgb(xyz);
  Scale scale{};
  for (int i = 0; i < kScaleSteps; ++i) {
    const auto& p = srgb.at<cv::Vec3b>(i);
    scale[static_cast<std::size_t>(i)] = {p[0], p[1], p[2]};
  }
  return scale;
}

}  // namespace

const Scale& sequential_scale() {
  static const Scale scale = to_scale(even_steps(kAmounts, kScaleSteps));
  return scale;
}

const Scale& diverging_scale() {
  static const Scale scale = [] {
    constexpr int kHalf = kScaleSteps / 2;
    std::vector<LabD50> points = even_steps(kFalls, kHalf);
    std::reverse(points.begin(), points.end());
    const std::vector<LabD50> rises = even_steps(kRises, kHalf);
    points.insert(points.end(), rises.begin(), rises.end());
    return to_scale(points);
  }();
  return scale;
}

int scale_step(double value, double low, double high) {
  const double at = kScaleSteps * (value - low) / (high - low);
  return static_cast<int>(std::clamp(std::floor(at), 0.0, kScaleSteps - 1.0));
}

}  // namespace inkwane::map
