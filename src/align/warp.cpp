#include <limits>

#include <opencv2/imgproc.hpp>

#include "align/stages.hpp"

namespace inkwane::align {

cv::Mat warp_to_first(const cv::Mat& source, const Warp& warp) {
  const bool byte = source.depth() == CV_8U;
  cv::Mat result;
  if (byte) {
    cv::remap(source, result, warp.to_later, {}, cv::INTER_NEAREST, cv::BORDER_CONSTANT,
              cv::Scalar(0));
    result.setTo(cv::Scalar::all(0), warp.valid == 0);
    return result;
  }
  // The rim is replicated for the cubic's outer taps only: places beyond it are not valid.
  cv::remap(source, result, warp.to_later, {}, cv::INTER_CUBIC, cv::BORDER_REPLICATE);
  result.setTo(cv::Scalar::all(std::numeric_limits<double>::quiet_NaN()), warp.valid == 0);
  return result;
}

}  // namespace inkwane::align
