#include "align/structure.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace inkwane::align {
namespace {

/// Gaussian blur of a wide window, done on a reduced lattice: at least two lattice cells a standard
/// deviation remain, so that the result differs from the exact blur by less than 1 %.
cv::Mat wide_blur(const cv::Mat& picture, double sigma) {
  const int factor = std::max(1, static_cast<int>(sigma / 2.5));
  const cv::Size padded((picture.cols + factor - 1) / factor * factor,
                        (picture.rows + factor - 1) / factor * factor);
  cv::Mat wide, small, large;
  cv::copyMakeBorder(picture, wide, 0, padded.height - picture.rows, 0, padded.width - picture.cols,
                     cv::BORDER_REPLICATE);
  cv::resize(wide, small, padded / factor, 0, 0, cv::INTER_AREA);
  cv::GaussianBlur(small, small, {}, sigma / factor, sigma / factor, cv::BORDER_REPLICATE);
  cv::resize(small, large, padded, 0, 0, cv::INTER_LINEAR);
  return large(cv::Rect({}, picture.size()));
}

}  // namespace

Level reduce(const cv::Mat& structure, const cv::Mat& mask, int factor) {
  Level level;
  level.value.create(structure.size(), CV_32F);
  level.weight.create(structure.size(), CV_32F);
  for (int row = 0; row < structure.rows; ++row) {
    const auto* in = structure.ptr<float>(row);
    const auto* on = mask.ptr<uchar>(row);
    auto* value = level.value.ptr<float>(row);
    auto* weight = level.weight.ptr<float>(row);
    for (int column = 0; column < structure.cols; ++column) {
      const bool use = on[column] != 0 && std::isfinite(in[column]);
      value[column] = use ? in[column] : 0.0F;
      weight[column] = use ? 1.0F : 0.0F;
    }
  }
  if (factor == 1) return level;

  const cv::Size size((structure.cols + factor - 1) / factor, (structure.rows + factor - 1) / factor);
  for (cv::Mat* plane : {&level.value, &level.weight}) {
    cv::Mat padded;
    cv::copyMakeBorder(*plane, padded, 0, size.height * factor - structure.rows, 0,
                       size.width * factor - structure.cols, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::Mat small;
    cv::resize(padded, small, size, 0, 0, cv::INTER_AREA);
    *plane = small;
  }
  cv::Mat divisor;
  cv::max(level.weight, 1e-6, divisor);
  cv::divide(level.value, divisor, level.value);
  return level;
}

Signal normalise(const Level& level, double blur, double window, double floor) {
  // Normalised convolution: cells off the sheet have weight 0 and do not pull on their neighbours.
  cv::Mat value, weight = level.weight.clone();
  cv::multiply(level.value, level.weight, value);
  if (blur > 0) {
    cv::Mat blurred_weight;
    cv::GaussianBlur(value, value, {}, blur, blur, cv::BORDER_REPLICATE);
    cv::GaussianBlur(weight, blurred_weight, {}, blur, blur, cv::BORDER_REPLICATE);
    cv::max(blurred_weight, 1e-6, blurred_weight);
    cv::divide(value, blurred_weight, value);
  } else {
    value = level.value.clone();
  }

  cv::Mat weighted, squared;
  cv::multiply(value, weight, weighted);
  cv::multiply(value, weighted, squared);
  cv::Mat norm = wide_blur(weight, window);
  cv::max(norm, 1e-6, norm);
  cv::Mat mean = wide_blur(weighted, window), mean_square = wide_blur(squared, window);

  Signal signal{cv::Mat(value.size(), CV_32F), weight};
  const auto floor_square = static_cast<float>(floor * floor);
  for (int row = 0; row < value.rows; ++row) {
    const auto* v = value.ptr<float>(row);
    const auto* w = weight.ptr<float>(row);
    const auto* n = norm.ptr<float>(row);
    const auto* m = mean.ptr<float>(row);
    const auto* q = mean_square.ptr<float>(row);
    auto* out = signal.value.ptr<float>(row);
    for (int column = 0; column < value.cols; ++column) {
      const float average = m[column] / n[column];
      const float variance = std::max(q[column] / n[column] - average * average, 0.0F);
      const float z = (v[column] - average) / std::sqrt(variance + floor_square);
      out[column] = w[column] > 0 ? std::clamp(z, -4.0F, 4.0F) * w[column] : 0.0F;
    }
  }
  return signal;
}

double noise_of(const Level& level) {
  std::vector<float> differences;
  const cv::Mat& v = level.value;
  for (int row = 1; row + 1 < v.rows; row += 3) {
    for (int column = 1; column + 1 < v.cols; column += 3) {
      const cv::Rect patch(column - 1, row - 1, 3, 3);
      const auto at = [&](int i, int j) { return v.at<float>(patch.y + j, patch.x + i); };
      if (level.weight.at<float>(row, column) < 1 || level.weight.at<float>(row - 1, column - 1) < 1 ||
          level.weight.at<float>(row + 1, column + 1) < 1) {
        continue;
      }
      differences.push_back(std::abs(at(0, 0) - 2 * at(1, 0) + at(2, 0) - 2 * at(0, 1) + 4 * at(1, 1) -
                                     2 * at(2, 1) + at(0, 2) - 2 * at(1, 2) + at(2, 2)));
    }
  }
  if (differences.empty()) return 0;
  // The lower quartile instead of the mean: print edges would pass for noise. The quartile of |N(0,1)|
  // is 0.3186; the mask of second differences multiplies white noise by 6.
  const auto quartile = differences.begin() + static_cast<std::ptrdiff_t>(differences.size() / 4);
  std::nth_element(differences.begin(), quartile, differences.end());
  return static_cast<double>(*quartile) / (6 * 0.3186);
}

}  // namespace inkwane::align
