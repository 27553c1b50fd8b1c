// A disc of cells, for growing and shrinking masks.
#pragma once

#include <opencv2/core.hpp>

namespace inkwane::grid {

/// Structuring element (CV_8UC1) of this radius in whole cells, for cv::erode and cv::dilate.
[[nodiscard]] cv::Mat disc(int radius);

}  // namespace inkwane::grid
