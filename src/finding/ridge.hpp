// Crests of thin ridges in a picture.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

namespace inkwane::finding {

/// A line along a crest, in pixels, in order.
using Crest = std::vector<cv::Point2f>;

struct RidgeSearch {
  std::vector<double> scales_px;  ///< standard deviations of the ridges looked for
  double low = 0, high = 0;       ///< height of a ridge that goes on, and of one that counts
  double least_px = 0;            ///< length of a piece
  double bridged_px = 0;          ///< gaps between pieces that go on in one direction
};

/// Lines along which `height` (CV_32FC1, no NaN) is highest across: second derivatives of the
/// picture smoothed at each scale (Steger, IEEE Trans. Pattern Anal. Mach. Intell. 20(2), 1998,
/// from memory), followed from pixel to pixel, pieces joined end to end. A crest along which edges
/// of something else run is not one: `edges` (CV_32FC3, xx, yy, xy) is its structure tensor, 1
/// where an edge counts.
[[nodiscard]] std::vector<Crest> find_crests(const cv::Mat& height, const cv::Mat& edges,
                                             const RidgeSearch& search);

[[nodiscard]] double length_of(const Crest& crest);

}  // namespace inkwane::finding
