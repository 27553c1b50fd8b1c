#include "finding/sheet_view.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "treatment/polygon.hpp"

namespace inkwane::finding {
namespace {

/// Corners of an outline that lie off the line between their neighbours by less than this share of
/// a mask pixel say nothing.
constexpr double kOutlinePx = 0.7;

std::vector<Point> to_points(const std::vector<cv::Point2f>& contour) {
  std::vector<Point> points;
  for (const cv::Point2f& p : contour)
    points.push_back({static_cast<double>(p.x), static_cast<double>(p.y)});
  return points;
}

/// Outline in pixels of the patch, half a pixel outside the centres of its border.
std::vector<Point> outline_of(const Patch& patch) {
  constexpr int kFiner = 4;
  cv::Mat padded, fine;
  cv::copyMakeBorder(patch.inside, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::resize(padded, fine, {}, kFiner, kFiner, cv::INTER_LINEAR);
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(fine >= 128, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  if (contours.empty()) return {};
  const auto longest =
      std::max_element(contours.begin(), contours.end(),
                       [](const auto& a, const auto& b) { return a.size() < b.size(); });
  std::vector<cv::Point2f> raw, simple;
  for (const cv::Point& p : *longest) {
    const auto back = [](int v) { return (static_cast<float>(v) + 0.5F) / kFiner - 0.5F - 1; };
    raw.emplace_back(back(p.x), back(p.y));
  }
  cv::approxPolyDP(raw, simple, kOutlinePx, true);
  if (simple.size() < 3 || treatment::crossing_edges(to_points(simple)))
    cv::convexHull(raw, simple);
  return to_points(simple);
}

}  // namespace

Point SheetView::to_mm(Point cell) const {
  const Point &o = corners[0], &x = corners[1];
  const double length = std::hypot(x.x - o.x, x.y - o.y);
  const double c = (x.x - o.x) / length, s = (x.y - o.y) / length;
  const double dx = cell.x - o.x, dy = cell.y - o.y, mm = input->geometry.pitch_mm;
  return {mm * (c * dx + s * dy), mm * (c * dy - s * dx)};
}

cv::Mat SheetView::map(const std::string& kind, const std::string& from,
                       const std::string& to) const {
  for (const change::MapLayer& layer : output->maps) {
    if (layer.kind == kind && layer.from == from && layer.to == to) return layer.value;
  }
  return {};
}

std::vector<Patch> patches_of(const cv::Mat& mask, int least_pixels) {
  cv::Mat labels, stats, centroids;
  const int count = cv::connectedComponentsWithStats(mask, labels, stats, centroids, 8, CV_32S);
  std::vector<Patch> patches;
  for (int i = 1; i < count; ++i) {
    const int pixels = stats.at<int>(i, cv::CC_STAT_AREA);
    if (pixels < least_pixels) continue;
    const cv::Rect bounds(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                          stats.at<int>(i, cv::CC_STAT_WIDTH),
                          stats.at<int>(i, cv::CC_STAT_HEIGHT));
    patches.push_back({bounds, labels(bounds) == i, pixels});
  }
  return patches;
}

results::Place place_of(const SheetView& view, const Patch& patch, cv::Point first, int block) {
  const auto cell = [&](double x, double y) -> Point {
    return {first.x + (patch.bounds.x + x + 0.5) * block - 0.5,
            first.y + (patch.bounds.y + y + 0.5) * block - 0.5};
  };
  results::Place place;
  place.side = view.input->side;
  const cv::Moments moments = cv::moments(patch.inside, true);
  place.at_mm = view.to_mm(cell(moments.m10 / moments.m00, moments.m01 / moments.m00));
  for (const Point& p : outline_of(patch))
    place.outline.push_back(view.input->geometry.to_px(cell(p.x, p.y)));
  place.area_mm2 = patch.pixels * block * block * view.input->geometry.cell_mm2();
  return place;
}

}  // namespace inkwane::finding
