// The structure of a sheet in a form that survives a change of colour: what is lighter or darker
// than its own surroundings, in units of their contrast. Internal to this room.
#pragma once

#include <opencv2/core.hpp>

namespace inkwane::align {

/// A picture made comparable between stages.
struct Signal {
  cv::Mat value;   ///< CV_32FC1: local mean 0, local standard deviation about 1; 0 outside the mask
  cv::Mat weight;  ///< CV_32FC1, 0–1: how much of a cell lies on the sheet
};

/// A raw picture reduced for one level of a pyramid.
struct Level {
  cv::Mat value;   ///< CV_32FC1: mean of the cells on the sheet
  cv::Mat weight;  ///< CV_32FC1, 0–1: share of the cells on the sheet
};

/// `structure`: CV_32FC1; `mask`: CV_8UC1, cells outside it or not finite count for nothing.
/// `factor` ≥ 1: cells a side that become one; cut blocks at the right and lower edge are averaged
/// over what there is, so cell i of the result is centred on (i + ½) factor − ½.
[[nodiscard]] Level reduce(const cv::Mat& structure, const cv::Mat& mask, int factor);

/// Blurs by `blur` cells, then divides the deviation from the local mean by the local standard
/// deviation, both taken over a Gaussian window of `window` cells (standard deviations). Where the
/// local contrast is below `floor` (unit of `value`) it is divided by that instead, so that noise
/// is not raised to the height of print.
[[nodiscard]] Signal normalise(const Level& level, double blur, double window, double floor);

/// Gaussian blur of a wide window (standard deviation in cells), at the cost of a narrow one.
[[nodiscard]] cv::Mat wide_blur(const cv::Mat& picture, double sigma);

/// Standard deviation of the noise of single cells, from a robust mean of second differences
/// (after Immerkær, Computer Vision and Image Understanding 64(2), 1996).
[[nodiscard]] double noise_of(const Level& level);

}  // namespace inkwane::align
