// Grids brought to the size of a picture.
#pragma once

#include <utility>

#include <opencv2/core.hpp>

namespace inkwane::map {

/// `values` (CV_32FC1, NaN where there are none) at another size. Smaller: the mean of the values
/// under each pixel, NaN where less than half of it has one. Larger: each cell a block.
[[nodiscard]] cv::Mat resized_values(const cv::Mat& values, cv::Size size);

/// A size of at most `longest_px` a side in the proportions of `size`, and the factor to it.
[[nodiscard]] std::pair<cv::Size, double> reduced(cv::Size size, int longest_px);

/// The scan as the ground of a map: CV_8UC1 sRGB grey between `kFaded` and white.
[[nodiscard]] cv::Mat faded(const cv::Mat& srgb, cv::Size size);

/// Darkest grey of a faded scan: L* 85, lighter than any colour of the scale for amounts.
inline constexpr int kFaded = 212;

}  // namespace inkwane::map
