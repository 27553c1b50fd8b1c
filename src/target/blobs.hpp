// Flat, rectangular places in a picture: what may be patches of a target.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

namespace inkwane::target {

struct Blob {
  cv::Point2d centre;
  double side = 0;  ///< square root of the area, pixels
};

/// `picture`: CV_32FC3, encoded 0–1. Every connected place without edges whose outline fills its
/// smallest rectangle, at several strengths of edge; each place once.
[[nodiscard]] std::vector<Blob> flat_blobs(const cv::Mat& picture);

}  // namespace inkwane::target
