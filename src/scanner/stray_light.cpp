#include "scanner/stray_light.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace inkwane::scanner {
namespace {

/// Beyond this the kernel is cut: at 10 ℓ it has 0.05 % of its weight left, and no bed is wider
/// about a sheet than some centimetres.
constexpr double kReachLengths = 10, kReachMm = 65;
/// Each round leaves about κ T⊗h / (1 + κ T⊗h) < 0.4 of the last one's error.
constexpr int kMostRounds = 20;
constexpr double kAtRest = 1e-4;

/// One quadrant of exp(−r / length), scaled so that the whole sums to 1.
cv::Mat quadrant(double length, int reach) {
  // Over a cell and not at its centre, where a short kernel changes much.
  constexpr int kParts = 4;
  constexpr int kNear = 4;
  cv::Mat h(reach + 1, reach + 1, CV_64FC1);
  double sum = 0;
  for (int y = 0; y <= reach; ++y) {
    for (int x = 0; x <= reach; ++x) {
      const int parts = x < kNear && y < kNear ? kParts : 1;
      double value = 0;
      for (int v = 0; v < parts; ++v) {
        for (int u = 0; u < parts; ++u) {
          value += std::exp(-std::hypot(x + (u + 0.5) / parts - 0.5, y + (v + 0.5) / parts - 0.5) /
                            length);
        }
      }
      h.at<double>(y, x) = value / (parts * parts);
      sum += h.at<double>(y, x) * (x > 0 ? 2 : 1) * (y > 0 ? 2 : 1);
    }
  }
  return h / sum;
}

/// The spectrum of the kernel, its centre at (0, 0) of a periodic picture of this size.
cv::Mat spectrum_of(double length, int reach, const cv::Size& size) {
  const cv::Mat h = quadrant(length, reach);
  cv::Mat kernel(size, CV_32FC1, cv::Scalar(0));
  for (int y = -reach; y <= reach; ++y) {
    for (int x = -reach; x <= reach; ++x) {
      kernel.at<float>((y + size.height) % size.height, (x + size.width) % size.width) =
          static_cast<float>(h.at<double>(std::abs(y), std::abs(x)));
    }
  }
  cv::dft(kernel, kernel);
  return kernel;
}

/// Linear between the coarse cells, level beyond them.
struct Between {
  int low, high;
  float part;
  Between(double at, int cells) {
    const double held = std::clamp(at, 0.0, static_cast<double>(cells - 1));
    low = std::min(static_cast<int>(held), cells - 1);
    high = std::min(low + 1, cells - 1);
    part = static_cast<float>(held - low);
  }
};

cv::Vec3f mix(const cv::Vec3f& a, const cv::Vec3f& b, float part) {
  return a + part * (b - a);
}

cv::Vec3f value_at(const cv::Mat& picture, const Between& x, const Between& y) {
  const auto* above = picture.ptr<cv::Vec3f>(y.low);
  const auto* below = picture.ptr<cv::Vec3f>(y.high);
  return mix(mix(above[x.low], above[x.high], x.part), mix(below[x.low], below[x.high], x.part),
             y.part);
}

}  // namespace

cv::Mat surround(const cv::Mat& light, double length_mm, double pitch_mm) {
  const double length = length_mm / pitch_mm;
  const int reach =
      static_cast<int>(std::ceil(std::min(kReachLengths * length_mm, kReachMm) / pitch_mm));
  const cv::Size size(cv::getOptimalDFTSize(light.cols + 2 * reach),
                      cv::getOptimalDFTSize(light.rows + 2 * reach));
  const cv::Mat kernel = spectrum_of(length, reach, size);
  // By Fourier transforms; the border is as wide as the kernel, so that its period does not show.
  cv::Mat padded;
  cv::copyMakeBorder(light, padded, reach, size.height - light.rows - reach, reach,
                     size.width - light.cols - reach, cv::BORDER_REPLICATE);
  std::vector<cv::Mat> channels;
  cv::split(padded, channels);
  for (cv::Mat& channel : channels) {
    cv::dft(channel, channel);
    cv::mulSpectrums(channel, kernel, channel, 0);
    cv::dft(channel, channel, cv::DFT_INVERSE | cv::DFT_SCALE | cv::DFT_REAL_OUTPUT);
    channel = channel(cv::Rect({reach, reach}, light.size()));
  }
  cv::Mat lit_by;
  cv::merge(channels, lit_by);
  return lit_by;
}

Correction::Correction(const CoarseLight& seen, const StrayLight& stray)
    : pitch_px_(seen.pitch_px), origin_px_(seen.origin_px) {
  const double level = 1 + stray.kappa * kSurround;
  cv::Mat light = seen.light.clone(), gain;
  for (int round = 0; round < kMostRounds; ++round) {
    lit_by_ = surround(light, stray.length_mm, seen.pitch_mm);
    gain = (lit_by_ * stray.kappa + cv::Scalar::all(1)) / level;
    cv::Mat next = seen.light / gain;
    const double moved = cv::norm(next, light, cv::NORM_INF);
    light = next;
    if (moved < kAtRest) break;
  }
  cv::log(gain, log_gain_);
}

Eigen::Vector3d Correction::log_gain(Point px) const {
  const Between x((px.x - origin_px_.x) / pitch_px_, log_gain_.cols);
  const Between y((px.y - origin_px_.y) / pitch_px_, log_gain_.rows);
  const cv::Vec3f v = value_at(log_gain_, x, y);
  return Eigen::Vector3f(v[0], v[1], v[2]).cast<double>();
}

cv::Mat Correction::log_gain(Point origin_px, double pitch_px, const cv::Size& cells) const {
  std::vector<Between> columns;
  for (int i = 0; i < cells.width; ++i) {
    columns.emplace_back((origin_px.x + pitch_px * i - origin_px_.x) / pitch_px_, log_gain_.cols);
  }
  cv::Mat out(cells, CV_32FC3);
  cv::parallel_for_({0, cells.height}, [&](const cv::Range& rows) {
    for (int j = rows.start; j < rows.end; ++j) {
      const Between y((origin_px.y + pitch_px * j - origin_px_.y) / pitch_px_, log_gain_.rows);
      auto* values = out.ptr<cv::Vec3f>(j);
      for (int i = 0; i < cells.width; ++i) values[i] = value_at(log_gain_, columns[i], y);
    }
  });
  return out;
}

}  // namespace inkwane::scanner
