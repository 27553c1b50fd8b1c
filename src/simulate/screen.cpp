#include "simulate/draw.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace inkwane::simulate {
namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kInchMm = 25.4;
constexpr double kEllipse = 0.7;  // second axis against the first of the elliptical dot

/// Height of the spot function at a place in the cell (periods), and how fast it falls there.
struct Spot {
  double height, slope;
};

Spot spot(DotShape dot, double u, double v) {
  if (dot == DotShape::round) {
    const double x = u - std::round(u), y = v - std::round(v);
    return {-std::hypot(x, y), 1};
  }
  const double second = dot == DotShape::elliptical ? kEllipse : 1;
  const double sx = std::sin(2 * kPi * u), sy = second * std::sin(2 * kPi * v);
  return {std::cos(2 * kPi * u) + second * std::cos(2 * kPi * v), 2 * kPi * std::hypot(sx, sy)};
}

/// Height above which a share `coverage` of the cell lies.
double threshold_for(DotShape dot, double coverage) {
  constexpr int kSteps = 400;
  std::vector<double> heights;
  heights.reserve(kSteps * kSteps);
  for (int j = 0; j < kSteps; ++j) {
    for (int i = 0; i < kSteps; ++i) {
      heights.push_back(spot(dot, (i + 0.5) / kSteps, (j + 0.5) / kSteps).height);
    }
  }
  const auto rank = static_cast<std::ptrdiff_t>((1 - coverage) * static_cast<double>(heights.size()));
  const auto nth = heights.begin() + std::min<std::ptrdiff_t>(rank, kSteps * kSteps - 1);
  std::nth_element(heights.begin(), nth, heights.end());
  return *nth;
}

}  // namespace

Screen::Screen(double lpi, double angle_degrees, double coverage, DotShape dot)
    : dot_(dot),
      period_mm_(kInchMm / lpi),
      cos_(std::cos(angle_degrees * kPi / 180)),
      sin_(std::sin(angle_degrees * kPi / 180)),
      full_(coverage >= 1),
      none_(coverage <= 0) {
  if (!full_ && !none_) threshold_ = threshold_for(dot, coverage);
}

void Screen::multiply(cv::Mat& mask, const Window& window, const cv::Rect& part) const {
  if (full_) return;
  if (none_) {
    mask.setTo(0);
    return;
  }
  const double cell = window.pitch_mm / period_mm_;  // periods a cell
  for (int j = 0; j < part.height; ++j) {
    auto* row = mask.ptr<std::uint8_t>(j);
    for (int i = 0; i < part.width; ++i) {
      if (row[i] == 0) continue;
      const cv::Point2d mm = window.centre_mm(part.x + i, part.y + j);
      const double u = (cos_ * mm.x + sin_ * mm.y) / period_mm_;
      const double v = (-sin_ * mm.x + cos_ * mm.y) / period_mm_;
      const Spot here = spot(dot_, u, v);
      // The share of the cell above the threshold, its edge taken as straight.
      const double dot = std::clamp(
          0.5 + (here.height - threshold_) / std::max(here.slope * cell, 1e-3), 0.0, 1.0);
      row[i] = static_cast<std::uint8_t>(row[i] * dot + 0.5);
    }
  }
}

}  // namespace inkwane::simulate
