#include "change/region_pixels.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include <Eigen/LU>
#include <opencv2/imgproc.hpp>

#include "change/colour_space.hpp"

namespace inkwane::change {
namespace {

constexpr int kLeastPixels = 400;
constexpr double kTaper = 0.6;  // of the largest distance to the edge: where the weight reaches 1
/// Points of an outline are carried over at least this often, so that its sides follow the warp.
constexpr double kStepCells = 10;
/// As in the reading of patches: values this close to the ends count as clipped.
constexpr std::uint16_t kAlmostBlack = 0, kAlmostWhite = 65535 - 64;
constexpr int kSubPixelBits = 8;

/// The misfit of a part of the first grid, in this scan's pixels.
double misfit_px(const ScanPixels& pixels, const cv::Rect& part) {
  if (pixels.to_later.empty()) return 0;
  const cv::Mat window = pixels.misfit_mm(part);
  const double mean = cv::mean(window, window >= 0)[0];  // NaN fails the comparison
  return std::isfinite(mean) ? mean * pixels.resolution_dpi / 25.4 : 0;
}

/// The outline in this scan's pixels; empty where the warp does not reach.
std::vector<cv::Point2d> carried(const std::vector<cv::Point2d>& outline_cells,
                                 const ScanPixels& pixels) {
  std::vector<cv::Point2d> result;
  for (std::size_t i = 0; i < outline_cells.size(); ++i) {
    const cv::Point2d a = outline_cells[i], b = outline_cells[(i + 1) % outline_cells.size()];
    const int steps = std::max(1, cvCeil(cv::norm(b - a) / kStepCells));
    for (int k = 0; k < steps; ++k) {
      const auto p = pixel_at(pixels, a + (b - a) * (static_cast<double>(k) / steps));
      if (!p) return {};
      result.push_back(*p);
    }
  }
  return result;
}

void fill(const std::vector<cv::Point2d>& outline, cv::Point origin, cv::Mat& mask) {
  constexpr double kUnit = 1 << kSubPixelBits;
  std::vector<std::vector<cv::Point>> points(1);
  for (const cv::Point2d& p : outline) {
    points[0].emplace_back(cvRound((p.x - origin.x) * kUnit), cvRound((p.y - origin.y) * kUnit));
  }
  cv::fillPoly(mask, points, cv::Scalar(255), cv::LINE_8, kSubPixelBits);
}

Eigen::Matrix2d stretch_at(cv::Point2d cell, const ScanPixels& pixels,
                           const grid::Geometry& first) {
  constexpr double kApart = 20;  // cells, either way
  Eigen::Matrix2d result = Eigen::Matrix2d::Identity();
  for (int axis = 0; axis < 2; ++axis) {
    const cv::Point2d step = axis == 0 ? cv::Point2d(kApart, 0) : cv::Point2d(0, kApart);
    const auto there = pixel_at(pixels, cell + step), back = pixel_at(pixels, cell - step);
    if (!there || !back) return Eigen::Matrix2d::Identity();
    const cv::Point2d d = (*there - *back) * (1 / (2 * kApart * first.pitch_px));
    result.col(axis) << d.x, d.y;
  }
  return result;
}

}  // namespace

std::optional<cv::Point2d> pixel_at(const ScanPixels& pixels, cv::Point2d cell) {
  cv::Point2d there = cell;
  if (!pixels.to_later.empty()) {
    const cv::Mat& map = pixels.to_later;
    const double x = std::clamp(cell.x, 0.0, map.cols - 1.0001),
                 y = std::clamp(cell.y, 0.0, map.rows - 1.0001);
    const int i = static_cast<int>(x), j = static_cast<int>(y);
    const double a = x - i, b = y - j;
    const auto at = [&](int dj, int di) {
      const auto& v = map.at<cv::Vec2f>(j + dj, i + di);
      return cv::Point2d(static_cast<double>(v[0]), static_cast<double>(v[1]));
    };
    there = (1 - b) * ((1 - a) * at(0, 0) + a * at(0, 1)) +
            b * ((1 - a) * at(1, 0) + a * at(1, 1)) +
            (cell - cv::Point2d(x, y));  // beyond the grid as at its edge
    if (!std::isfinite(there.x) || !std::isfinite(there.y)) return std::nullopt;
  }
  const Point p = pixels.geometry.to_px({there.x, there.y});
  return cv::Point2d(p.x, p.y);
}

cv::Rect fullest_part(const region::Mask& mask, int most_cells) {
  cv::Rect part(0, 0, std::min(most_cells, mask.bounds.width),
                std::min(most_cells, mask.bounds.height));
  cv::Mat sums;
  cv::integral(mask.inside, sums, CV_64F);
  double most = -1;
  const int step_x = std::max(1, part.width / 8), step_y = std::max(1, part.height / 8);
  cv::Point best;
  for (int y = 0; y + part.height <= mask.bounds.height; y += step_y) {
    for (int x = 0; x + part.width <= mask.bounds.width; x += step_x) {
      const double sum = sums.at<double>(y, x) + sums.at<double>(y + part.height, x + part.width) -
                         sums.at<double>(y, x + part.width) - sums.at<double>(y + part.height, x);
      if (sum > most) most = sum, best = {x, y};
    }
  }
  return {mask.bounds.tl() + best, part.size()};
}

std::optional<RegionPixels> read_region(const region::Mask& mask, const grid::Geometry& first,
                                        const ScanPixels& pixels) {
  const cv::Rect part = fullest_part(mask, static_cast<int>(kMostWindowPx / first.pitch_px));
  std::vector<cv::Point2d> polygon;
  for (const Point& p : mask.region->polygon) {
    const Point cell = first.to_cell(p);
    polygon.emplace_back(cell.x, cell.y);
  }
  const double left = part.x - 0.5, top = part.y - 0.5, right = left + part.width,
               bottom = top + part.height;
  const auto outline = carried(polygon, pixels);
  const auto frame = carried({{left, top}, {right, top}, {right, bottom}, {left, bottom}}, pixels);
  if (outline.empty() || frame.empty()) return std::nullopt;

  cv::Point2d low = frame[0], high = frame[0];
  for (const cv::Point2d& p : frame) {
    low = {std::min(low.x, p.x), std::min(low.y, p.y)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y)};
  }
  const cv::Rect window =
      cv::Rect(cv::Point(cvFloor(low.x) - 1, cvFloor(low.y) - 1),
               cv::Point(cvCeil(high.x) + 2, cvCeil(high.y) + 2)) &
      cv::Rect(0, 0, pixels.scan->info().width_px, pixels.scan->info().height_px);
  if (window.area() < kLeastPixels) return std::nullopt;

  cv::Mat inside(window.size(), CV_8UC1, cv::Scalar(0)), in_frame = inside.clone();
  fill(outline, window.tl(), inside);
  fill(frame, window.tl(), in_frame);
  inside &= in_frame;
  cv::Mat padded, distance;  // beyond the window is outside
  cv::copyMakeBorder(inside, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::distanceTransform(padded, distance, cv::DIST_L2, cv::DIST_MASK_PRECISE);
  distance = distance(cv::Rect({1, 1}, window.size()));

  RegionPixels result;
  result.u_px = misfit_px(pixels, part);
  distance -= std::max(1.0, result.u_px);
  double widest = 0;
  cv::minMaxLoc(distance, nullptr, &widest);
  const int area = cv::countNonZero(distance > 0);
  if (area < kLeastPixels || widest <= 0) return std::nullopt;

  const cv::Mat encoded = pixels.scan->read_window(window);
  cv::Mat light, xyz;
  pixels.colour->linearise(encoded, light);
  if (pixels.stray_light != nullptr) {
    pixels.stray_light->remove(light,
                               {static_cast<double>(window.x), static_cast<double>(window.y)}, 1);
  }
  pixels.colour->to_xyz(light, xyz);
  result.sharp.create(window.size(), CV_32FC3);
  result.weight.create(window.size(), CV_32FC1);
  const Eigen::Matrix3f sharpen = sharpening().cast<float>();
  const auto full = static_cast<float>(kTaper * widest);
  int clipped = 0;
  for (int j = 0; j < window.height; ++j) {
    for (int i = 0; i < window.width; ++i) {
      const auto& v = xyz.at<cv::Vec3f>(j, i);
      const Eigen::Vector3f s = sharpen * Eigen::Vector3f(v[0], v[1], v[2]);
      result.sharp.at<cv::Vec3f>(j, i) = {s[0], s[1], s[2]};
      const float d = distance.at<float>(j, i);
      result.weight.at<float>(j, i) =
          d <= 0 ? 0 : 0.5F - 0.5F * std::cos(std::numbers::pi_v<float> * std::min(1.0F, d / full));
      if (d <= 0) continue;
      const auto* rgb = encoded.ptr<std::uint16_t>(j) + 3 * i;
      clipped += std::any_of(rgb, rgb + 3, [](std::uint16_t value) {
        return value <= kAlmostBlack || value >= kAlmostWhite;
      });
    }
  }
  result.clipped = static_cast<double>(clipped) / area;
  const cv::Point2d centre(part.x + 0.5 * (part.width - 1), part.y + 0.5 * (part.height - 1));
  result.stretch = stretch_at(centre, pixels, first);
  return result;
}

}  // namespace inkwane::change
