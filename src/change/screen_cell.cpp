#include "change/screen_cell.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <opencv2/core.hpp>

namespace inkwane::change {
namespace {

constexpr int kSide = 48;  // samples of the cell, each way
constexpr int kThresholds = 56;
constexpr double kTwoPi = 2 * std::numbers::pi;

/// Height of the spot function about the cell's centre, and its steepness, a cell.
struct Spot {
  double height, slope;
};

Spot spot(DotForm form, double aspect, double x, double y) {
  if (form == DotForm::round) return {0.5 - std::hypot(x, y), 1};
  return {std::cos(kTwoPi * x) + aspect * std::cos(kTwoPi * y),
          kTwoPi * std::hypot(std::sin(kTwoPi * x), aspect * std::sin(kTwoPi * y))};
}

double place(int i) {
  return (i + 0.5) / kSide - 0.5;
}

/// exp(−2π² s² k²) over the transform's bins.
cv::Mat spread_of(double spread) {
  cv::Mat result(kSide, kSide, CV_32FC2);
  const auto wave = [](int i) { return static_cast<double>(i <= kSide / 2 ? i : i - kSide); };
  for (int j = 0; j < kSide; ++j) {
    for (int i = 0; i < kSide; ++i) {
      const double k2 = wave(i) * wave(i) + wave(j) * wave(j);
      const auto g = static_cast<float>(std::exp(-0.5 * kTwoPi * kTwoPi * spread * spread * k2));
      result.at<cv::Vec2f>(j, i) = {g, g};
    }
  }
  return result;
}

}  // namespace

double Cell::absorbed(double ratio) const {
  if (ratio <= 0) return 0;
  // u p1 − u² q1 = ratio (1 − u p00 + u² q00)
  const double a = q1 + ratio * q00, b = p1 + ratio * p00;
  const double root = b * b - 4 * a * ratio;
  return std::min(root > 0 ? 2 * ratio / (b + std::sqrt(root)) : b / (2 * a), 1.0);
}

CellTable::CellTable(double spread, DotForm form, double aspect) {
  const cv::Mat gain = spread_of(spread);
  cv::Mat height(kSide, kSide, CV_32FC1), slope(kSide, kSide, CV_32FC1);
  for (int j = 0; j < kSide; ++j) {
    for (int i = 0; i < kSide; ++i) {
      const Spot s = spot(form, aspect, place(i), place(j));
      height.at<float>(j, i) = static_cast<float>(s.height);
      slope.at<float>(j, i) = static_cast<float>(std::max(s.slope / kSide, 1e-3));
    }
  }
  double low = 0, high = 0;
  cv::minMaxLoc(height, &low, &high);
  cv::Mat dot(kSide, kSide, CV_32FC1), seen, transform;
  for (int t = 1; t < kThresholds; ++t) {
    const auto threshold = static_cast<float>(high + (low - high) * t / kThresholds);
    // The share of a sample above the threshold, its edge taken as straight.
    for (int j = 0; j < kSide; ++j) {
      for (int i = 0; i < kSide; ++i) {
        dot.at<float>(j, i) = std::clamp(
            0.5F + (height.at<float>(j, i) - threshold) / slope.at<float>(j, i), 0.0F, 1.0F);
      }
    }
    cv::dft(dot, transform, cv::DFT_COMPLEX_OUTPUT);
    cv::multiply(transform, gain, transform);
    cv::dft(transform, seen, cv::DFT_INVERSE | cv::DFT_SCALE | cv::DFT_REAL_OUTPUT);
    Cell cell;
    double along[2] = {0, 0};
    for (int j = 0; j < kSide; ++j) {
      for (int i = 0; i < kSide; ++i) {
        const auto m = static_cast<double>(dot.at<float>(j, i)),
                   s = static_cast<double>(seen.at<float>(j, i));
        const double x = std::cos(kTwoPi * place(i)), y = std::cos(kTwoPi * place(j));
        cell.coverage += m;
        cell.p00 += m + s;
        cell.q00 += m * s;
        cell.p1 += 0.5 * (m + s) * (x + y);
        cell.q1 += 0.5 * m * s * (x + y);
        along[0] += m * x;
        along[1] += m * y;
      }
    }
    constexpr double kSamples = kSide * kSide;
    for (double* sum : {&cell.coverage, &cell.p00, &cell.q00, &cell.p1, &cell.q1}) *sum /= kSamples;
    cell.along = along[1] > 1e-9 * kSamples ? along[0] / along[1] : 1;
    if (cells_.empty() || cell.coverage > cells_.back().coverage + 1e-4) cells_.push_back(cell);
  }
}

Cell CellTable::at(double coverage) const {
  const double a = std::clamp(coverage, kLeastCoverage, kMostCoverage);
  const auto above = std::find_if(cells_.begin() + 1, cells_.end() - 1,
                                  [a](const Cell& cell) { return cell.coverage >= a; });
  const Cell &p = *(above - 1), &q = *above;
  const double t = (a - p.coverage) / (q.coverage - p.coverage);
  const auto between = [t](double x, double y) { return x + t * (y - x); };
  return {a,
          between(p.p00, q.p00),
          between(p.q00, q.q00),
          between(p.p1, q.p1),
          between(p.q1, q.q1),
          between(p.along, q.along)};
}

}  // namespace inkwane::change
