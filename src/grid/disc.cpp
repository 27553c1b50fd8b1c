#include "grid/disc.hpp"

#include <opencv2/imgproc.hpp>

namespace inkwane::grid {

cv::Mat disc(int radius) {
  return cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * radius + 1, 2 * radius + 1});
}

}  // namespace inkwane::grid
