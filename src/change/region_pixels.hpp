// A region in the pixels of one stage's scan: read again, never resampled.
#pragma once

#include <optional>

#include <Eigen/Core>

#include "region/mask.hpp"
#include "target/point_spread.hpp"

namespace inkwane::change {

/// Where a stage's own pixels can be had.
struct ScanPixels {
  const scan::Scan* scan = nullptr;  ///< null: nowhere
  const target::ScanColour* colour = nullptr;
  double resolution_dpi = 0;
  grid::Geometry geometry;  ///< of this scan's own grid
  /// CV_32FC2 on the first grid: the cell of this scan's grid, and (CV_32FC1) how sure, mm. Both
  /// empty at the first stage.
  cv::Mat to_later, misfit_mm;
  std::optional<target::PointSpread> point_spread;
  const scanner::Correction* stray_light = nullptr;  ///< of this scan; null: none is known of
};

/// The pixel of this scan that shows a cell of the first stage's grid; none where the warp does not
/// reach.
[[nodiscard]] std::optional<cv::Point2d> pixel_at(const ScanPixels& pixels, cv::Point2d cell);

/// Windows are cut to this many pixels a side, about the fullest part of the region: some forty
/// periods of a screen either way at 600 dpi.
inline constexpr int kMostWindowPx = 640;

struct RegionPixels {
  cv::Mat sharp;       ///< CV_32FC3: sharpened RGB (colour_space.hpp), linear in light
  cv::Mat weight;      ///< CV_32FC1: 1 inside, falling to 0 at the region's edge
  double clipped = 0;  ///< share of the region's pixels at an end of the scale
  double u_px = 0;     ///< misfit of the region's place
  /// d(this scan's pixel) / d(the first stage's pixel): how lines of the print lie here.
  Eigen::Matrix2d stretch = Eigen::Matrix2d::Identity();
};

/// Part of a region's bounds, in cells, that a window of `most_cells` a side should be cut to: the
/// one in which most of the region lies.
[[nodiscard]] cv::Rect fullest_part(const region::Mask& mask, int most_cells);

/// Reads one region. `first`: the first stage's grid. Its polygon is carried into this scan by the
/// warp and drawn in by a pixel or the misfit, whichever is larger. None where too little is left.
[[nodiscard]] std::optional<RegionPixels> read_region(const region::Mask& mask,
                                                      const grid::Geometry& first,
                                                      const ScanPixels& pixels);

}  // namespace inkwane::change
