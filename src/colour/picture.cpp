// XYZ D50 → sRGB pictures.
#include <algorithm>
#include <cmath>

#include <Eigen/LU>

#include "colour/icc.hpp"
#include "colour/srgb.hpp"

namespace inkwane::colour {
namespace {

/// Fine enough for 8 bits: the steepest part of the curve rises by 0.05 of a code a step.
constexpr int kSteps = 65535;

const std::vector<std::uint8_t>& encoding() {
  static const std::vector<std::uint8_t> table = [] {
    std::vector<std::uint8_t> t(kSteps + 1);
    for (int i = 0; i <= kSteps; ++i) {
      t[i] = static_cast<std::uint8_t>(std::lround(255.0 * linear_to_srgb(i / double(kSteps))));
    }
    return t;
  }();
  return table;
}

}  // namespace

cv::Mat to_srgb(const cv::Mat& xyz) {
  CV_Assert(xyz.type() == CV_32FC3);
  const Eigen::Matrix3f m = srgb_to_xyz_d50().inverse().cast<float>();
  const auto& table = encoding();
  cv::Mat picture(xyz.size(), CV_8UC3);
  cv::parallel_for_(cv::Range(0, xyz.rows), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {
      const float* in = xyz.ptr<float>(y);
      std::uint8_t* out = picture.ptr<std::uint8_t>(y);
      for (int x = 0; x < xyz.cols; ++x, in += 3, out += 3) {
        if (std::isnan(in[0] + in[1] + in[2])) {
          out[0] = out[1] = out[2] = 255;
          continue;
        }
        for (int c = 0; c < 3; ++c) {
          const float v = m(c, 0) * in[0] + m(c, 1) * in[1] + m(c, 2) * in[2];
          out[c] = table[static_cast<int>(std::clamp(v, 0.0f, 1.0f) * float(kSteps) + 0.5f)];
        }
      }
    }
  });
  return picture;
}

}  // namespace inkwane::colour
