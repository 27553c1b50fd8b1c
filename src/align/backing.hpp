// What lies about the sheet: the colour of the backing, and what can be reached over it from the
// frame's edge. Internal to this room.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "grid/grid.hpp"

namespace inkwane::align {

/// A grid reduced for the search of the outline.
struct Overview {
  int factor = 1;  ///< grid cells a side of one cell of the overview
  double pitch_mm = 0.4;
  cv::Mat lab;     ///< CV_32FC3
  cv::Mat target;  ///< CV_8UC1: 255 on the target's card
  cv::Mat usable;  ///< CV_8UC1: 255 where the colour is finite
};

[[nodiscard]] Overview make_overview(const grid::Grid& grid);

/// One guess at what is backing.
struct Guess {
  cv::Mat sheet;  ///< CV_8UC1 on the overview: 255 where the backing does not reach, largest piece,
                  ///< holes filled
  cv::Vec3f backing;  ///< its mean Lab
};

/// For the colours found along the frame's edge, alone and together, the sheet that is left, with
/// and without the target's card.
[[nodiscard]] std::vector<Guess> guess_sheets(const Overview& overview);

}  // namespace inkwane::align
