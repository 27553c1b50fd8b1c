#include <algorithm>
#include <cmath>

#include "grid/grid.hpp"

namespace inkwane::grid {

Geometry make_geometry(int width_px, int height_px, double resolution_dpi, double pitch_mm) {
  constexpr double kMmPerInch = 25.4;
  Geometry geometry;
  geometry.pitch_mm = pitch_mm;
  geometry.pitch_px = pitch_mm * resolution_dpi / kMmPerInch;
  geometry.columns = std::max(1, static_cast<int>(width_px / geometry.pitch_px));
  geometry.rows = std::max(1, static_cast<int>(height_px / geometry.pitch_px));
  // The first cell's left edge lies on the scan's left edge, half a pixel before pixel 0.
  geometry.origin_px = {(geometry.pitch_px - 1) / 2, (geometry.pitch_px - 1) / 2};
  return geometry;
}

}  // namespace inkwane::grid
