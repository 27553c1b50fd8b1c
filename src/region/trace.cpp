#include "region/trace.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "treatment/polygon.hpp"

namespace inkwane::region {
namespace {

/// Pixels a side of one cell while tracing.
constexpr int kFine = 4;
/// Longest side of a picture that a drawn shape is painted on.
constexpr double kCanvasPx = 3000;
/// A joint's tip reaches at most this many half widths.
constexpr double kMitre = 3;

bool is_simple(const std::vector<Point>& polygon) {
  return polygon.size() >= 3 && treatment::polygon_area(polygon) > 0 &&
         !treatment::crossing_edges(polygon);
}

/// The contour with fewer points, none further off than `tolerance`; empty where it would cross.
std::vector<Point> simplified(const std::vector<cv::Point2f>& contour, double tolerance) {
  std::vector<cv::Point2f> fewer;
  cv::approxPolyDP(contour, fewer, tolerance, true);
  std::vector<Point> polygon;
  for (const auto& p : fewer)
    polygon.push_back({static_cast<double>(p.x), static_cast<double>(p.y)});
  return is_simple(polygon) ? polygon : std::vector<Point>{};
}

std::vector<Point> simplified(const std::vector<cv::Point2f>& contour, double tolerance,
                              int tries) {
  for (; tries > 0; --tries, tolerance /= 2) {
    auto polygon = simplified(contour, tolerance);
    if (!polygon.empty()) return polygon;
  }
  return {};
}

cv::Mat largest_piece(const cv::Mat& mask) {
  cv::Mat labels, stats, centres;
  const int n = cv::connectedComponentsWithStats(mask, labels, stats, centres, 4);
  int best = 0, area = 0;
  for (int i = 1; i < n; ++i) {
    if (stats.at<int>(i, cv::CC_STAT_AREA) > area) {
      best = i;
      area = stats.at<int>(i, cv::CC_STAT_AREA);
    }
  }
  return best == 0 ? cv::Mat() : cv::Mat(labels == best);
}

std::vector<cv::Point2f> outer_contour(const cv::Mat& piece) {
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(piece, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  std::vector<cv::Point2f> out;
  for (const cv::Point& p : contours.front()) out.emplace_back(p);
  return out;
}

/// The border of a painted mask's largest piece, in its pixels. The window that smooths it is
/// widened until the border does not meet itself.
std::vector<Point> border(const cv::Mat& painted, double tolerance) {
  constexpr double kNarrowest = 2, kWidest = 64;
  // A contour runs through the centres of the outermost pixels, half a pixel inside; a straight
  // edge blurred by σ = 2 is at 40 % half a pixel further out.
  constexpr double kLevel = 0.40 * 255;
  for (double sigma = kNarrowest; sigma <= kWidest; sigma *= 2) {
    cv::Mat smooth;
    cv::GaussianBlur(painted, smooth, {}, sigma, sigma, cv::BORDER_CONSTANT);
    const cv::Mat piece = largest_piece(smooth > kLevel);
    if (piece.empty()) break;
    std::vector<Point> polygon = simplified(outer_contour(piece), tolerance, 4);
    if (!polygon.empty()) return polygon;
  }
  return {};
}

/// Painted shape ↔ its own units.
struct Canvas {
  double scale = 1;
  Point origin;
  cv::Size size;

  Canvas(const std::vector<Point>& points, double margin) {
    Point low = points.front(), high = low;
    for (const Point& p : points) {
      low = {std::min(low.x, p.x), std::min(low.y, p.y)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    }
    origin = {low.x - margin, low.y - margin};
    const double wide = high.x - low.x + 2 * margin, tall = high.y - low.y + 2 * margin;
    scale = std::min(kFine * 1.0, kCanvasPx / std::max({wide, tall, 1.0}));
    size = {cvCeil(wide * scale) + 3, cvCeil(tall * scale) + 3};
  }
  /// In sixteenths of a painted pixel.
  [[nodiscard]] std::vector<cv::Point> fixed(const std::vector<Point>& points) const {
    std::vector<cv::Point> out;
    for (const Point& p : points) {
      out.emplace_back(cvRound(((p.x - origin.x) * scale + 1) * 16),
                       cvRound(((p.y - origin.y) * scale + 1) * 16));
    }
    return out;
  }
  [[nodiscard]] std::vector<Point> back(std::vector<Point> painted) const {
    for (Point& p : painted) p = {(p.x - 1) / scale + origin.x, (p.y - 1) / scale + origin.y};
    return painted;
  }
};

std::vector<Point> without_repeats(const std::vector<Point>& line) {
  std::vector<Point> out;
  for (const Point& p : line) {
    if (out.empty() || std::hypot(p.x - out.back().x, p.y - out.back().y) > 1e-6) out.push_back(p);
  }
  return out;
}

/// The line shifted by `by` to its left, its joints mitred.
std::vector<Point> shifted(const std::vector<Point>& line, double by) {
  const auto normal = [&](std::size_t i) -> Point {
    const double dx = line[i + 1].x - line[i].x, dy = line[i + 1].y - line[i].y;
    const double length = std::hypot(dx, dy);
    return {dy / length, -dx / length};
  };
  std::vector<Point> out;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const Point a = normal(i == 0 ? 0 : i - 1), b = normal(i + 1 == line.size() ? i - 1 : i);
    const Point sum{a.x + b.x, a.y + b.y};
    const double square = sum.x * sum.x + sum.y * sum.y;
    // |a + b| = 2 cos(half the turn): the mitre's length is 1 / cos(half the turn).
    const double reach = square > 0 ? std::min(2 / square, kMitre / std::sqrt(square)) : 0;
    out.push_back({line[i].x + by * sum.x * reach, line[i].y + by * sum.y * reach});
  }
  return out;
}

std::vector<Point> painted_stroke(const std::vector<Point>& line, double width) {
  const Canvas canvas(line, width);
  cv::Mat mask(canvas.size, CV_8UC1, cv::Scalar(0));
  const int thickness = std::max(1, cvRound(width * canvas.scale));
  cv::polylines(mask, std::vector<std::vector<cv::Point>>{canvas.fixed(line)}, false,
                cv::Scalar(255), thickness, cv::LINE_8, 4);
  return canvas.back(border(mask, 1));
}

}  // namespace

std::vector<Point> trace(const cv::Mat& mask, double tolerance) {
  if (cv::countNonZero(mask) == 0) return {};
  cv::Mat framed, fine;
  cv::copyMakeBorder(mask != 0, framed, 2, 2, 2, 2, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::resize(framed, fine, {}, kFine, kFine, cv::INTER_NEAREST);
  std::vector<Point> polygon = border(fine, tolerance * kFine);
  for (Point& p : polygon) p = {(p.x + 0.5) / kFine - 2.5, (p.y + 0.5) / kFine - 2.5};
  return polygon;
}

std::vector<Point> tidied(const std::vector<Point>& drawn, double tolerance) {
  const std::vector<Point> points = without_repeats(drawn);
  if (points.size() < 3) return {};
  if (is_simple(points)) {
    std::vector<cv::Point2f> contour;
    for (const Point& p : points) contour.emplace_back(p.x, p.y);
    auto fewer = tolerance > 0 ? simplified(contour, tolerance, 4) : std::vector<Point>{};
    return fewer.empty() ? points : fewer;
  }
  const Canvas canvas(points, 1);
  cv::Mat mask(canvas.size, CV_8UC1, cv::Scalar(0));
  cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{canvas.fixed(points)}, cv::Scalar(255),
               cv::LINE_8, 4);
  return canvas.back(border(mask, std::max(1.0, tolerance * canvas.scale)));
}

std::vector<Point> stroke(const std::vector<Point>& line, double width) {
  const std::vector<Point> points = without_repeats(line);
  if (points.size() < 2 || !(width > 0)) return {};
  std::vector<Point> area = shifted(points, width / 2);
  const std::vector<Point> other = shifted(points, -width / 2);
  area.insert(area.end(), other.rbegin(), other.rend());
  return is_simple(area) ? area : painted_stroke(points, width);
}

}  // namespace inkwane::region
