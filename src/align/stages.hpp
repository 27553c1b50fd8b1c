// A later stage's scan mapped onto the first stage's.
#pragma once

#include <string>
#include <vector>

#include "align/outline.hpp"

namespace inkwane::align {

struct View {
  const grid::Grid* grid = nullptr;
  const Outline* outline = nullptr;
  std::string file;   ///< for messages
  std::string stage;  ///< for messages
};

/// How a later scan lies on the first one.
struct Warp {
  cv::Mat to_later;  ///< CV_32FC2 on the first grid: the cell coordinates (column, row) in the
                     ///< later grid
  cv::Mat valid;  ///< CV_8UC1 on the first grid: 255 where `to_later` falls inside the later scan
  cv::Mat misfit_mm;  ///< CV_32FC1 on the first grid: standard uncertainty of the position
                      ///< along any one direction
  double residual_mm_median = 0, residual_mm_p95 = 0;  ///< of features held out of the fit
  double stretch_x = 1, stretch_y = 1;  ///< length in mm at the later stage ÷ at the first
  std::vector<std::string> warnings;
  bool doubtful = false;  ///< p95 above 0.3 mm
};

/// `control`: places in the later and in the first scan (pixels) given by hand; met exactly.
/// Throws Error(scan) for another object, a mirrored or a turned scan, saying which.
[[nodiscard]] Warp align_stage(const View& first, const View& later,
                               const std::vector<ControlPoint>& control);

/// `source` (any float or 8-bit type, on the later grid) brought onto the first grid: bicubic for
/// floats, NaN where not valid; nearest for 8 bit, 0 where not valid.
[[nodiscard]] cv::Mat warp_to_first(const cv::Mat& source, const Warp& warp);

}  // namespace inkwane::align
