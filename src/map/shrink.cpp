#include "map/shrink.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <opencv2/imgproc.hpp>

namespace inkwane::map {

cv::Mat resized_values(const cv::Mat& values, cv::Size size) {
  cv::Mat result;
  if (size.width >= values.cols) {
    cv::resize(values, result, size, 0, 0, cv::INTER_NEAREST);
    return result;
  }
  const cv::Mat there = values == values;  // false for NaN
  cv::Mat share, known = cv::Mat::zeros(values.size(), CV_32FC1);
  values.copyTo(known, there);
  there.convertTo(share, CV_32F, 1.0 / 255);
  cv::Mat share_small;
  cv::resize(share, share_small, size, 0, 0, cv::INTER_AREA);
  cv::resize(known, result, size, 0, 0, cv::INTER_AREA);
  result /= share_small;
  result.setTo(std::numeric_limits<float>::quiet_NaN(), share_small < 0.5F);
  return result;
}

std::pair<cv::Size, double> reduced(cv::Size size, int longest_px) {
  const double factor = std::max(1.0, std::max(size.width, size.height) / double(longest_px));
  return {{std::max(1, static_cast<int>(std::lround(size.width / factor))),
           std::max(1, static_cast<int>(std::lround(size.height / factor)))},
          factor};
}

cv::Mat faded(const cv::Mat& srgb, cv::Size size) {
  cv::Mat grey, small;
  cv::cvtColor(srgb, grey, cv::COLOR_RGB2GRAY);
  cv::resize(grey, small, size, 0, 0, size.width < srgb.cols ? cv::INTER_AREA : cv::INTER_LINEAR);
  small.convertTo(small, CV_8U, (255.0 - kFaded) / 255, kFaded);
  return small;
}

}  // namespace inkwane::map
