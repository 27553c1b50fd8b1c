#include "region/mask.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include <inkwane/error.hpp>

namespace inkwane::region {
namespace {

// A polygon may overhang the sheet's edge by its drawing error, but not lie beside it.
constexpr double kLeastShareOnSheet = 0.5;

[[noreturn]] void refuse(const Region& region, const std::filesystem::path& file,
                         const std::string& what) {
  throw Error(ExitCode::usage, fmt::format("{}, line {}: region \"{}\" {}", file.string(),
                                           region.line, region.id, what));
}

/// Where the line of cells at height y crosses the polygon's edges, sorted (even–odd rule).
std::vector<double> crossings(const std::vector<Point>& polygon, double y) {
  std::vector<double> xs;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point a = polygon[i], b = polygon[(i + 1) % polygon.size()];
    if ((a.y <= y) != (b.y <= y)) xs.push_back(a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x));
  }
  std::sort(xs.begin(), xs.end());
  return xs;
}

}  // namespace

Mask make_mask(const Region& region, const grid::Geometry& geometry, const cv::Mat& valid,
               const std::filesystem::path& treatment_file) {
  std::vector<Point> polygon;
  for (const Point& px : region.polygon) polygon.push_back(geometry.to_cell(px));

  const auto [left, right] = std::minmax_element(polygon.begin(), polygon.end(),
                                                 [](Point a, Point b) { return a.x < b.x; });
  const auto [top, bottom] = std::minmax_element(polygon.begin(), polygon.end(),
                                                 [](Point a, Point b) { return a.y < b.y; });
  // The scan's edge lies half a cell beyond the outer cells' centres; a partial cell may follow.
  if (left->x < -1 || top->y < -1 || right->x > geometry.columns + 1 ||
      bottom->y > geometry.rows + 1) {
    refuse(
        region, treatment_file,
        fmt::format("leaves the scan of the {}; its polygon must lie within it, in pixels of the "
                    "first stage's scan.",
                    to_string(region.side)));
  }

  Mask mask;
  mask.region = &region;
  const int x0 = std::max(0, static_cast<int>(std::floor(left->x)));
  const int y0 = std::max(0, static_cast<int>(std::floor(top->y)));
  const int x1 = std::min(geometry.columns, static_cast<int>(std::ceil(right->x)) + 1);
  const int y1 = std::min(geometry.rows, static_cast<int>(std::ceil(bottom->y)) + 1);
  if (x1 > x0 && y1 > y0) mask.bounds = {x0, y0, x1 - x0, y1 - y0};
  mask.inside = cv::Mat(mask.bounds.size(), CV_8UC1, cv::Scalar(0));

  int cells = 0, on_sheet = 0;
  for (int j = 0; j < mask.bounds.height; ++j) {
    const std::vector<double> xs = crossings(polygon, y0 + j);
    auto* out = mask.inside.ptr<std::uint8_t>(j);
    const auto* sheet = valid.ptr<std::uint8_t>(y0 + j);
    for (std::size_t k = 0; k + 1 < xs.size(); k += 2) {
      const int from = std::max(x0, static_cast<int>(std::ceil(xs[k])));
      const int to = std::min(x1 - 1, static_cast<int>(std::floor(xs[k + 1])));
      for (int i = from; i <= to; ++i) {
        ++cells;
        if (sheet[i] == 0) continue;
        ++on_sheet;
        out[i - x0] = 255;
      }
    }
  }
  if (cells == 0) {
    refuse(region, treatment_file,
           fmt::format("is so small that it holds no cell of the measuring grid ({} mm); draw it "
                       "larger or set a finer grid_mm.",
                       geometry.pitch_mm));
  }
  if (on_sheet < kLeastShareOnSheet * cells) {
    refuse(region, treatment_file,
           fmt::format("lies off the sheet: only {:.0f} % of it is on the {} and clear of the "
                       "target; move it.",
                       100.0 * on_sheet / cells, to_string(region.side)));
  }
  mask.area_mm2 = on_sheet * geometry.cell_mm2();
  return mask;
}

}  // namespace inkwane::region
