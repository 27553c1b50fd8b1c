#include "change/region_weights.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include <opencv2/imgproc.hpp>

#include "grid/window.hpp"

namespace inkwane::change {
namespace {

constexpr int kLines = 8;  // sampled in each row of cells
// Share by which the light exchanged across an edge may be off: lines 0.6 mm wide on paper that
// spreads light over 0.05 mm were off by up to this (simulated).
constexpr double kEdgeSure = 0.1;

/// The polygon's cells that are further than `radius` (in cells) from what is not of the region.
cv::Mat eroded(const cv::Mat& cover, double radius) {
  cv::Mat inside, distance, padded;
  cv::copyMakeBorder(cover >= 0.5, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::distanceTransform(padded, distance, cv::DIST_L2, cv::DIST_MASK_PRECISE);
  // The distance runs between centres; the edge lies half a cell before the first centre outside.
  inside = distance(cv::Rect(1, 1, cover.cols, cover.rows)) - 0.5 >= radius;
  cv::Mat kept = cv::Mat::zeros(cover.size(), CV_32FC1);
  cover.copyTo(kept, inside);
  return kept;
}

/// What lies beside the region, within `width` cells of it.
cv::Mat ring_about(const cv::Mat& cover, const cv::Mat& open, double width) {
  cv::Mat distance, ring = 1 - cover;
  cv::distanceTransform(cover < 0.5, distance, cv::DIST_L2, cv::DIST_MASK_PRECISE);
  ring.setTo(0, (distance > width + 0.5) | (open == 0));
  return ring;
}

}  // namespace

cv::Mat coverage(const std::vector<Point>& polygon_cells, const cv::Rect& bounds) {
  cv::Mat cover(bounds.size(), CV_32FC1, cv::Scalar(0));
  std::vector<double> crossings;
  for (int y = 0; y < bounds.height; ++y) {
    float* row = cover.ptr<float>(y);
    for (int line = 0; line < kLines; ++line) {
      const double at = bounds.y + y - 0.5 + (line + 0.5) / kLines;
      crossings.clear();
      for (std::size_t i = 0; i < polygon_cells.size(); ++i) {
        const Point& p = polygon_cells[i];
        const Point& q = polygon_cells[(i + 1) % polygon_cells.size()];
        if ((p.y <= at) == (q.y <= at)) continue;
        crossings.push_back(p.x + (at - p.y) / (q.y - p.y) * (q.x - p.x));
      }
      std::sort(crossings.begin(), crossings.end());
      for (std::size_t i = 0; i + 1 < crossings.size(); i += 2) {
        // In units of cells from the window's left edge.
        const double left =
            std::clamp(crossings[i] + 0.5 - bounds.x, 0.0, static_cast<double>(bounds.width));
        const double right =
            std::clamp(crossings[i + 1] + 0.5 - bounds.x, 0.0, static_cast<double>(bounds.width));
        for (int x = static_cast<int>(left); x < bounds.width && x < right; ++x) {
          const double part = std::min(right, x + 1.0) - std::max(left, static_cast<double>(x));
          row[x] += static_cast<float>(part / kLines);
        }
      }
    }
  }
  return cover;
}

RegionWeights region_weights(const region::Mask& mask, const grid::Geometry& geometry,
                             const std::vector<const Layer*>& layers, double misfit_mm,
                             double aperture_mm) {
  const double sigma = grid::sigma_of_fwhm(aperture_mm) / geometry.pitch_mm;  // cells
  const int margin = static_cast<int>(std::ceil(4 * sigma)) + 1;
  const cv::Rect grid({0, 0}, geometry.size());
  RegionWeights result;
  result.bounds = cv::Rect(mask.bounds.x - margin, mask.bounds.y - margin,
                           mask.bounds.width + 2 * margin, mask.bounds.height + 2 * margin) &
                  grid;

  std::vector<Point> polygon;
  for (const Point& px : mask.region->polygon) polygon.push_back(geometry.to_cell(px));
  const cv::Mat polygon_cover = coverage(polygon, result.bounds);
  cv::Mat open(result.bounds.size(), CV_8UC1, cv::Scalar(255));
  for (const Layer* layer : layers) open &= layer->valid(result.bounds);
  cv::Mat shape = polygon_cover.clone();
  shape.setTo(0, open == 0);
  double total = cv::sum(shape)[0];
  if (total <= 0) return {};
  const cv::Mat inner = eroded(shape, misfit_mm / geometry.pitch_mm);
  if (cv::sum(inner)[0] >= 0.5 * total) shape = inner;
  total = cv::sum(shape)[0];

  // The region's mean is M = α a + (1 − α) b of its own light a and the light b beside it; the
  // ring's is N = β a + (1 − β) b. Solved for a.
  cv::Mat spread, weight = shape / total;
  cv::GaussianBlur(polygon_cover, spread, {}, sigma, sigma, cv::BORDER_CONSTANT);
  const cv::Mat ring = ring_about(polygon_cover, open, aperture_mm / geometry.pitch_mm);
  const double ring_cells = cv::sum(ring)[0];
  if (ring_cells > 0) {
    const double alpha = shape.dot(spread) / total, beta = ring.dot(spread) / ring_cells;
    weight = (weight * (1 - beta) - ring * ((1 - alpha) / ring_cells)) / (alpha - beta);
    const double exchanged = kEdgeSure * (1 - alpha) / (alpha * (alpha - beta));
    result.edge = (ring / ring_cells - shape / total) * exchanged;
  }
  result.weight = weight;
  // White noise of variance 4πσ² before the aperture has variance 1 after it.
  cv::GaussianBlur(result.weight, spread, {}, sigma, sigma, cv::BORDER_CONSTANT);
  result.noise_gain = 4 * std::numbers::pi * sigma * sigma * spread.dot(spread);
  return result;
}

Eigen::Vector3d weighted_mean(const cv::Mat& layer, const RegionWeights& weights, cv::Point shift) {
  Eigen::Vector3d sum = Eigen::Vector3d::Zero();
  double total = 0;
  for (int y = 0; y < weights.bounds.height; ++y) {
    const int row = weights.bounds.y + y + shift.y;
    if (row < 0 || row >= layer.rows) continue;
    const float* w = weights.weight.ptr<float>(y);
    const auto* values = layer.ptr<cv::Vec3f>(row);
    for (int x = 0; x < weights.bounds.width; ++x) {
      const int column = weights.bounds.x + x + shift.x;
      if (w[x] == 0 || column < 0 || column >= layer.cols || std::isnan(values[column][0]))
        continue;
      const auto weight = static_cast<double>(w[x]);
      for (int i = 0; i < 3; ++i) sum[i] += weight * static_cast<double>(values[column][i]);
      total += weight;
    }
  }
  if (total < 0.5) return Eigen::Vector3d::Constant(std::numeric_limits<double>::quiet_NaN());
  return sum / total;
}

Eigen::Vector3d edge_error(const cv::Mat& layer, const RegionWeights& weights) {
  Eigen::Vector3d sum = Eigen::Vector3d::Zero();
  if (weights.edge.empty()) return sum;
  const cv::Mat window = layer(weights.bounds);
  for (int y = 0; y < window.rows; ++y) {
    const float* w = weights.edge.ptr<float>(y);
    const auto* values = window.ptr<cv::Vec3f>(y);
    for (int x = 0; x < window.cols; ++x) {
      if (w[x] == 0 || std::isnan(values[x][0])) continue;
      for (int i = 0; i < 3; ++i)
        sum[i] += static_cast<double>(w[x]) * static_cast<double>(values[x][i]);
    }
  }
  return sum;
}

}  // namespace inkwane::change
