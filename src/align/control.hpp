// Control points: places given by hand, which the map must meet exactly. Internal to this room.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "align/features.hpp"

namespace inkwane::align {

/// The plainest map through the pairs: shift, similarity, or least-squares affine map, as one, two
/// or more are given. `scale`: cells of the second a cell of the first, used where one pair cannot
/// tell.
[[nodiscard]] cv::Matx23d map_through(const std::vector<Match>& pairs, double scale);

/// A smooth displacement with the values `shift` at `places`, 0 beyond `reach` cells from all of
/// them (Wendland's C2 function, Advances in Computational Mathematics 4, 1995). CV_32FC2 of
/// `size`; node (i, j) lies at cell (i + ½) block − ½. No two places may be the same.
[[nodiscard]] cv::Mat interpolate(const std::vector<cv::Point2d>& places,
                                  const std::vector<cv::Point2d>& shifts, double reach,
                                  cv::Size size, int block);

}  // namespace inkwane::align
