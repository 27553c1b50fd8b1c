// Polygons on a scan → masks on its grid.
#pragma once

#include <inkwane/treatment.hpp>

#include "grid/grid.hpp"

namespace inkwane::region {

/// A region's cells on its side's first grid.
struct Mask {
  const Region* region = nullptr;
  cv::Rect bounds;  ///< in cells, within the grid
  cv::Mat inside;  ///< CV_8UC1 of that size: 255 where the cell's centre lies in the polygon and on
                   ///< the sheet
  double area_mm2 = 0;  ///< the polygon within `valid`
};

/// `valid`: CV_8UC1 on the grid, 255 on the sheet and clear of the target. Throws Error(usage),
/// naming file, line and region, where the polygon leaves the scan or the sheet, or no cell is
/// inside.
[[nodiscard]] Mask make_mask(const Region& region, const grid::Geometry& geometry,
                             const cv::Mat& valid, const std::filesystem::path& treatment_file);

}  // namespace inkwane::region
