// Rows and columns among blobs.
#pragma once

#include <map>
#include <utility>
#include <vector>

#include <opencv2/core.hpp>

#include "target/blobs.hpp"

namespace inkwane::target {

/// Lattice coordinates (column, row) ↔ picture; a blob's centre has whole coordinates.
struct Lattice {
  std::map<std::pair<int, int>, int> blobs;  ///< by (column, row): index into the blobs
  cv::Matx33d to_picture = cv::Matx33d::eye();
  cv::Rect range;  ///< of the columns and rows that hold blobs
};

[[nodiscard]] cv::Point2d project(const cv::Matx33d& homography, const cv::Point2d& p);
/// Steps of one column and one row at `p`, in pixels.
[[nodiscard]] std::pair<cv::Point2d, cv::Point2d> steps_at(const cv::Matx33d& to_picture,
                                                           const cv::Point2d& p);

/// All lattices of at least `least` blobs of like size, the fullest first.
[[nodiscard]] std::vector<Lattice> find_lattices(const std::vector<Blob>& blobs, int least);

}  // namespace inkwane::target
