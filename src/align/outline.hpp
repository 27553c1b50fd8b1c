// The outline of the sheet on a grid.
#pragma once

#include "grid/grid.hpp"

namespace inkwane::align {

struct Outline {
  cv::Mat sheet;  ///< CV_8UC1, 255 on the sheet (holes filled; a target that lies on it left out),
                  ///< on the grid
  std::vector<Point> quad;   ///< its four corners, in cells, from the top left clockwise, sub-cell
  bool whole_frame = false;  ///< no backing seen: the sheet fills the frame (or was cropped to it)
  double width_mm = 0, height_mm = 0;
  std::vector<std::string> warnings;
};

/// Any backing that differs from the paper, dark or white, and any printed frame on the sheet.
/// Throws Error(scan), naming `file`, where no sheet can be made out.
[[nodiscard]] Outline find_outline(const grid::Grid& grid, const std::string& file);

/// The same from corners given by hand (pixels of the scan). Throws Error(usage), naming `file`,
/// where they leave the scan by more than a millimetre or enclose too little to be a sheet.
[[nodiscard]] Outline outline_from_corners(const grid::Grid& grid, const Corners& corners,
                                           const std::string& file);

}  // namespace inkwane::align
