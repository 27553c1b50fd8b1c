#include "align/structure.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace inkwane::align {
namespace {

/// A picture averaged over blocks of factor × factor cells; what a cut block lacks is replicated.
cv::Mat shrunk(const cv::Mat& picture, int factor) {
  const cv::Size blocks((picture.cols + factor - 1) / factor, (picture.rows + factor - 1) / factor);
  cv::Mat wide, small;
  cv::copyMakeBorder(picture, wide, 0, blocks.height * factor - picture.rows, 0,
                     blocks.width * factor - picture.cols, cv::BORDER_REPLICATE);
  cv::resize(wide, small, blocks, 0, 0, cv::INTER_AREA);
  return small;
}

cv::Mat enlarged(const cv::Mat& small, int factor, cv::Size size) {
  cv::Mat large;
  cv::resize(small, large, small.size() * factor, 0, 0, cv::INTER_LINEAR);
  return large(cv::Rect({}, size));
}

/// At least two and a half blocks a standard deviation remain, so that blurring blocks instead of
/// cells differs from the exact blur by less than 1 %.
int factor_for(double sigma) {
  return std::max(1, static_cast<int>(sigma / 2.5));
}

}  // namespace

cv::Mat wide_blur(const cv::Mat& picture, double sigma) {
  const int factor = factor_for(sigma);
  cv::Mat small = shrunk(picture, factor);
  cv::GaussianBlur(small, small, {}, sigma / factor, sigma / factor, cv::BORDER_REPLICATE);
  return factor == 1 ? small : enlarged(small, factor, picture.size());
}

Level reduce(const cv::Mat& structure, const cv::Mat& mask, int factor) {
  Level level;
  level.value.create(structure.size(), CV_32F);
  level.weight.create(structure.size(), CV_32F);
  cv::parallel_for_({0, structure.rows}, [&](const cv::Range& rows) {
    for (int row = rows.start; row < rows.end; ++row) {
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
  });
  if (factor == 1) return level;

  const cv::Size size((structure.cols + factor - 1) / factor,
                      (structure.rows + factor - 1) / factor);
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

  // Local mean and contrast on blocks: they change slowly.
  const int factor = factor_for(window);
  cv::Mat weighted, squared;
  cv::multiply(value, weight, weighted);
  cv::multiply(value, weighted, squared);
  cv::Mat norm = shrunk(weight, factor), mean = shrunk(weighted, factor),
          scale = shrunk(squared, factor);
  for (cv::Mat* m : {&norm, &mean, &scale}) {
    cv::GaussianBlur(*m, *m, {}, window / factor, window / factor, cv::BORDER_REPLICATE);
  }
  for (int row = 0; row < norm.rows; ++row) {
    for (int column = 0; column < norm.cols; ++column) {
      const float n = std::max(norm.at<float>(row, column), 1e-6F);
      float& m = mean.at<float>(row, column);
      float& s = scale.at<float>(row, column);
      m /= n;
      s = 1 / std::sqrt(std::max(s / n - m * m, 0.0F) + static_cast<float>(floor * floor));
    }
  }
  mean = enlarged(mean, factor, value.size());
  scale = enlarged(scale, factor, value.size());

  Signal signal{value, weight};
  cv::parallel_for_({0, value.rows}, [&](const cv::Range& rows) {
    for (int row = rows.start; row < rows.end; ++row) {
      auto* v = value.ptr<float>(row);
      const auto* w = weight.ptr<float>(row);
      const auto* m = mean.ptr<float>(row);
      const auto* s = scale.ptr<float>(row);
      for (int column = 0; column < value.cols; ++column) {
        v[column] = std::clamp((v[column] - m[column]) * s[column], -4.0F, 4.0F) * w[column];
      }
    }
  });
  return signal;
}

double noise_of(const Level& level) {
  std::vector<float> differences;
  const cv::Mat& v = level.value;
  for (int row = 1; row + 1 < v.rows; row += 3) {
    for (int column = 1; column + 1 < v.cols; column += 3) {
      const cv::Rect patch(column - 1, row - 1, 3, 3);
      const auto at = [&](int i, int j) { return v.at<float>(patch.y + j, patch.x + i); };
      if (level.weight.at<float>(row, column) < 1 ||
          level.weight.at<float>(row - 1, column - 1) < 1 ||
          level.weight.at<float>(row + 1, column + 1) < 1) {
        continue;
      }
      differences.push_back(std::abs(at(0, 0) - 2 * at(1, 0) + at(2, 0) - 2 * at(0, 1) +
                                     4 * at(1, 1) - 2 * at(2, 1) + at(0, 2) - 2 * at(1, 2) +
                                     at(2, 2)));
    }
  }
  if (differences.empty()) return 0;
  // The lower quartile instead of the mean: print edges would pass for noise. The quartile of
  // |N(0,1)| is 0.3186; the mask of second differences multiplies white noise by 6.
  const auto quartile = differences.begin() + static_cast<std::ptrdiff_t>(differences.size() / 4);
  std::nth_element(differences.begin(), quartile, differences.end());
  return static_cast<double>(*quartile) / (6 * 0.3186);
}

}  // namespace inkwane::align
