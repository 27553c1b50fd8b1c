// The measuring grid: light averaged over the aperture, sampled in millimetres.
#pragma once

#include <optional>

#include <opencv2/core.hpp>

#include <inkwane/treatment.hpp>

#include "scan/scan.hpp"
#include "scanner/stray_light.hpp"
#include "target/fit.hpp"

namespace inkwane::grid {

/// Where the cells lie: cell (i, j), column and row, is centred on scan pixel
/// origin_px + pitch_px (i, j).
struct Geometry {
  double pitch_mm = 0.1;
  double pitch_px = 1;
  Point origin_px;
  int columns = 0, rows = 0;

  [[nodiscard]] Point to_px(Point cell) const {
    return {origin_px.x + pitch_px * cell.x, origin_px.y + pitch_px * cell.y};
  }
  [[nodiscard]] Point to_cell(Point px) const {
    return {(px.x - origin_px.x) / pitch_px, (px.y - origin_px.y) / pitch_px};
  }
  [[nodiscard]] cv::Size size() const { return {columns, rows}; }
  [[nodiscard]] double cell_mm2() const { return pitch_mm * pitch_mm; }
};

/// One scan on its own grid.
struct Grid {
  Geometry geometry;
  cv::Mat light;  ///< CV_32FC3: the scan's linear RGB (ScanColour::linearise), averaged over the
                  ///< aperture
  cv::Mat xyz;    ///< CV_32FC3: XYZ D50 of `light`
  cv::Mat structure;  ///< CV_32FC1: lightness-like signal at a finer aperture, for alignment, 0–1
  cv::Mat clipped;    ///< CV_8UC1: 255 where too much of the aperture was clipped in the scan
  cv::Mat target;     ///< CV_8UC1: 255 where the target's card lies
  std::optional<scanner::Correction> stray_light;  ///< taken off `light`
};

/// The grid that covers a whole scan of this size and resolution.
[[nodiscard]] Geometry make_geometry(int width_px, int height_px, double resolution_dpi,
                                     double pitch_mm);

/// Streams the scan once. `card`: outline of the target's card in scan pixels, may be empty.
/// Gaussian windows of `aperture_mm` full width at half maximum, in linear light; `stray_light` is
/// taken off them.
[[nodiscard]] Grid make_grid(const scan::Scan& scan, const target::ScanColour& colour,
                             const Geometry& geometry, double aperture_mm,
                             const std::vector<Point>& card,
                             const scanner::StrayLightEstimate& stray_light = {});

}  // namespace inkwane::grid
