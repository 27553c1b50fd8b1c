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

/// h for pictures of one size, by Fourier transforms; the border is as wide as the kernel, so that
/// its period does not show.
class Kernel {
 public:
  Kernel(double length_mm, double pitch_mm, const cv::Size& picture)
      : reach_(
            static_cast<int>(std::ceil(std::min(kReachLengths * length_mm, kReachMm) / pitch_mm))),
        size_(cv::getOptimalDFTSize(picture.width + 2 * reach_),
              cv::getOptimalDFTSize(picture.height + 2 * reach_)),
        spectrum_(size_, CV_32FC1, cv::Scalar(0)) {
    const cv::Mat h = quadrant(length_mm / pitch_mm, reach_);
    for (int y = -reach_; y <= reach_; ++y) {
      for (int x = -reach_; x <= reach_; ++x) {
        spectrum_.at<float>((y + size_.height) % size_.height, (x + size_.width) % size_.width) =
            static_cast<float>(h.at<double>(std::abs(y), std::abs(x)));
      }
    }
    cv::dft(spectrum_, spectrum_);
  }

  [[nodiscard]] cv::Mat blur(const cv::Mat& light) const {
    cv::Mat padded;
    cv::copyMakeBorder(light, padded, reach_, size_.height - light.rows - reach_, reach_,
                       size_.width - light.cols - reach_, cv::BORDER_REPLICATE);
    std::vector<cv::Mat> channels;
    cv::split(padded, channels);
    for (cv::Mat& channel : channels) {
      cv::dft(channel, channel);
      cv::mulSpectrums(channel, spectrum_, channel, 0);
      cv::dft(channel, channel, cv::DFT_INVERSE | cv::DFT_SCALE | cv::DFT_REAL_OUTPUT);
      channel = channel(cv::Rect({reach_, reach_}, light.size()));
    }
    cv::Mat lit_by;
    cv::merge(channels, lit_by);
    return lit_by;
  }

 private:
  int reach_;
  cv::Size size_;
  cv::Mat spectrum_;  // of the kernel, its centre at (0, 0) of a periodic picture
};

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

cv::Vec3f between(const cv::Mat& picture, const Between& x, const Between& y) {
  const auto* above = picture.ptr<cv::Vec3f>(y.low);
  const auto* below = picture.ptr<cv::Vec3f>(y.high);
  return mix(mix(above[x.low], above[x.high], x.part), mix(below[x.low], below[x.high], x.part),
             y.part);
}

/// ln(m / t); `light` is where the search begins, and what it finds.
cv::Mat solve(const CoarseLight& seen, const StrayLight& stray, cv::Mat& light) {
  if (stray.kappa == 0) return cv::Mat::zeros(light.size(), light.type());
  const Kernel kernel(stray.length_mm, seen.pitch_mm, light.size());
  const double level = 1 + stray.kappa * kSurround;
  cv::Mat gain;
  for (int round = 0; round < kMostRounds; ++round) {
    gain = (kernel.blur(light) * stray.kappa + cv::Scalar::all(1)) / level;
    const cv::Mat next = seen.light / gain;
    const double moved = cv::norm(next, light, cv::NORM_INF);
    light = next;
    if (moved < kAtRest) break;
  }
  cv::log(gain, gain);
  return gain;
}

}  // namespace

cv::Mat surround(const cv::Mat& light, double length_mm, double pitch_mm) {
  return Kernel(length_mm, pitch_mm, light.size()).blur(light);
}

CoarseLight coarse_light(const CoarseLight& fine) {
  CoarseLight coarse = fine;
  const int factor = std::max(1, static_cast<int>(std::lround(kCoarseMm / fine.pitch_mm)));
  if (factor == 1) return coarse;
  const cv::Size cells((fine.light.cols + factor - 1) / factor,
                       (fine.light.rows + factor - 1) / factor);
  const int channels = fine.light.channels();
  coarse.light = cv::Mat(cells, fine.light.type(), cv::Scalar::all(0));
  for (int j = 0; j < fine.light.rows; ++j) {
    const auto* in = fine.light.ptr<float>(j);
    auto* out = coarse.light.ptr<float>(j / factor);
    const int rows = std::min(factor, fine.light.rows - j / factor * factor);
    for (int i = 0; i < fine.light.cols; ++i) {
      const int first = i / factor * factor;
      const auto share = 1 / static_cast<float>(rows * std::min(factor, fine.light.cols - first));
      for (int c = 0; c < channels; ++c)
        out[i / factor * channels + c] += share * in[i * channels + c];
    }
  }
  coarse.pitch_mm *= factor;
  coarse.pitch_px *= factor;
  const double to_middle = 0.5 * (factor - 1) * fine.pitch_px;
  coarse.origin_px = {fine.origin_px.x + to_middle, fine.origin_px.y + to_middle};
  return coarse;
}

Correction::Correction(const CoarseLight& seen, const StrayLightEstimate& stray)
    : corrects_(stray.value.kappa > 0), pitch_px_(seen.pitch_px), origin_px_(seen.origin_px) {
  cv::Mat light = seen.light.clone();
  log_gain_ = solve(seen, stray.value, light);
  const auto add_error = [&](double kappa, double length_mm) {
    StrayLight other{stray.value.kappa + kappa, stray.value.length_mm + length_mm};
    other.length_mm = std::clamp(other.length_mm, kLeastLengthMm, kMostLengthMm);
    cv::Mat begin = light.clone();
    log_errors_.emplace_back(solve(seen, other, begin) - log_gain_);
  };
  const double rest = std::sqrt(std::max(0.0, 1 - stray.correlation * stray.correlation));
  add_error(stray.u_kappa, corrects_ ? stray.correlation * stray.u_length_mm : 0);
  if (corrects_) add_error(0, rest * stray.u_length_mm);
}

Eigen::Vector3d Correction::value_at(const cv::Mat& picture, Point px) const {
  const Between x((px.x - origin_px_.x) / pitch_px_, picture.cols);
  const Between y((px.y - origin_px_.y) / pitch_px_, picture.rows);
  const cv::Vec3f v = between(picture, x, y);
  return Eigen::Vector3f(v[0], v[1], v[2]).cast<double>();
}

Eigen::Matrix3Xd Correction::log_errors(Point px) const {
  Eigen::Matrix3Xd errors(3, static_cast<Eigen::Index>(log_errors_.size()));
  for (std::size_t k = 0; k < log_errors_.size(); ++k) {
    errors.col(static_cast<Eigen::Index>(k)) = value_at(log_errors_[k], px);
  }
  return errors;
}

void Correction::remove(cv::Mat& light, Point origin_px, double pitch_px) const {
  CV_Assert(light.type() == CV_32FC3);
  if (!corrects_) return;
  cv::Mat share;  // t / m
  cv::exp(-log_gain_, share);
  std::vector<Between> columns;
  for (int i = 0; i < light.cols; ++i) {
    columns.emplace_back((origin_px.x + pitch_px * i - origin_px_.x) / pitch_px_, share.cols);
  }
  cv::parallel_for_({0, light.rows}, [&](const cv::Range& rows) {
    for (int j = rows.start; j < rows.end; ++j) {
      const Between y((origin_px.y + pitch_px * j - origin_px_.y) / pitch_px_, share.rows);
      auto* values = light.ptr<cv::Vec3f>(j);
      for (int i = 0; i < light.cols; ++i) {
        values[i] = values[i].mul(between(share, columns[static_cast<std::size_t>(i)], y));
      }
    }
  });
}

}  // namespace inkwane::scanner
