#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <vector>

#include "simulate/draw.hpp"

namespace inkwane::simulate {
namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kInchMm = 25.4;
constexpr float kEllipse = 0.7F;  // second axis against the first of the elliptical dot

/// Phase in the lattice as a fraction of 2^32, so that whole periods drop out by themselves.
using Phase = std::uint32_t;
constexpr double kTurn = 4294967296.0;

Phase phase_of(double periods) {
  return static_cast<Phase>(static_cast<std::int64_t>((periods - std::floor(periods)) * kTurn));
}

/// sin at 4,096 places of the period: dots are drawn to 1/4000 of their screen's period.
float sine(Phase phase) {
  static const auto table = [] {
    std::array<float, 4096> values{};
    for (int i = 0; i < 4096; ++i)
      values[i] = static_cast<float>(std::sin(2 * kPi * (i + 0.5) / 4096));
    return values;
  }();
  return table[phase >> 20U];
}
float cosine(Phase phase) {
  return sine(phase + 0x40000000U);
}

/// Height of the spot function at a place in the cell, and how fast it falls there, a period.
struct Spot {
  float height, slope;
};

Spot spot(DotShape dot, Phase u, Phase v) {
  if (dot == DotShape::round) {
    const auto from_centre = [](Phase p) {
      return static_cast<float>(static_cast<std::int32_t>(p)) / static_cast<float>(kTurn);
    };
    const float x = from_centre(u), y = from_centre(v);
    return {-std::sqrt(x * x + y * y), 1};
  }
  const float second = dot == DotShape::elliptical ? kEllipse : 1.0F;
  const float sx = sine(u), sy = second * sine(v);
  return {cosine(u) + second * cosine(v),
          static_cast<float>(2 * kPi) * std::sqrt(sx * sx + sy * sy)};
}

/// Height above which a share `coverage` of the cell lies.
float threshold_for(DotShape dot, double coverage) {
  constexpr int kSteps = 400;
  std::vector<float> heights;
  heights.reserve(kSteps * kSteps);
  for (int j = 0; j < kSteps; ++j) {
    for (int i = 0; i < kSteps; ++i) {
      heights.push_back(
          spot(dot, phase_of((i + 0.5) / kSteps), phase_of((j + 0.5) / kSteps)).height);
    }
  }
  const auto rank =
      static_cast<std::ptrdiff_t>((1 - coverage) * static_cast<double>(heights.size()));
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
  const auto cell = static_cast<float>(window.pitch_mm / period_mm_);  // periods a cell
  const Phase step_u = phase_of(cos_ * window.pitch_mm / period_mm_);
  const Phase step_v = phase_of(-sin_ * window.pitch_mm / period_mm_);
  const DotShape dot = dot_;
  const auto threshold = static_cast<float>(threshold_);
  for (int j = 0; j < part.height; ++j) {
    auto* row = mask.ptr<std::uint8_t>(j);
    const cv::Point2d mm = window.centre_mm(part.x, part.y + j);
    Phase u = phase_of((cos_ * mm.x + sin_ * mm.y) / period_mm_);
    Phase v = phase_of((-sin_ * mm.x + cos_ * mm.y) / period_mm_);
    for (int i = 0; i < part.width; ++i, u += step_u, v += step_v) {
      if (row[i] == 0) continue;
      const Spot here = spot(dot, u, v);
      // The share of the cell above the threshold, its edge taken as straight.
      const float share = std::clamp(
          0.5F + (here.height - threshold) / std::max(here.slope * cell, 1e-3F), 0.0F, 1.0F);
      row[i] = static_cast<std::uint8_t>(static_cast<float>(row[i]) * share + 0.5F);
    }
  }
}

}  // namespace inkwane::simulate
