#include "simulate/scanner.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "simulate/random.hpp"

namespace inkwane::simulate {
namespace {

struct Lobe {
  double nm, width_nm, height;
};

double sum_at(const std::vector<Lobe>& lobes, double nm) {
  double sum = 0;
  for (const Lobe& lobe : lobes) {
    const double x = (nm - lobe.nm) / lobe.width_nm;
    sum += lobe.height * std::exp(-x * x / 2);
  }
  return sum;
}

std::array<Spectrum, 3> make_sensors() {
  // A white lamp with a blue peak and phosphors, and three filters: invented, shaped like what
  // flatbeds have (common practice, no source).
  const std::vector<Lobe> lamp{{450, 14, 1.0}, {545, 42, 0.85}, {610, 40, 0.75}};
  constexpr double kLampFloor = 0.12;
  const std::array<std::vector<Lobe>, 3> filters{
      {{{600, 34, 1}, {440, 18, 0.03}}, {{540, 36, 1}}, {{452, 26, 1}}}};
  std::array<Spectrum, 3> sensors{};
  for (int channel = 0; channel < 3; ++channel) {
    double total = 0;
    for (int i = 0; i < kBands; ++i) {
      const double nm = band_nm(i);
      sensors[channel][i] = sum_at(filters[channel], nm) * (sum_at(lamp, nm) + kLampFloor);
      total += sensors[channel][i];
    }
    for (double& weight : sensors[channel]) weight *= kExposure / total;
  }
  return sensors;
}

constexpr double kStrayGridMm = 1;
constexpr int kStrayReachMm = 65;

/// Picture on a grid of about 1 mm, edges replicated.
cv::Mat coarse(const cv::Mat& light, double dpi) {
  const double cells = 25.4 / dpi / kStrayGridMm;
  cv::Mat grid, padded;
  cv::resize(light, grid,
             {std::max(1, cvRound(light.cols * cells)), std::max(1, cvRound(light.rows * cells))},
             0, 0, cv::INTER_AREA);
  cv::copyMakeBorder(grid, padded, kStrayReachMm, kStrayReachMm, kStrayReachMm, kStrayReachMm,
                     cv::BORDER_REPLICATE);
  return padded;
}

/// `grid` blurred by exp(−r / length), without its padding.
cv::Mat haze(const cv::Mat& grid, double length_mm) {
  const int reach = kStrayReachMm;
  cv::Mat kernel(2 * reach + 1, 2 * reach + 1, CV_32FC1);
  for (int j = -reach; j <= reach; ++j) {
    for (int i = -reach; i <= reach; ++i) {
      kernel.at<float>(j + reach, i + reach) =
          static_cast<float>(std::exp(-std::hypot(i, j) / length_mm));
    }
  }
  kernel /= cv::sum(kernel)[0];
  cv::Mat blurred;
  cv::filter2D(grid, blurred, CV_32F, kernel, {-1, -1}, 0, cv::BORDER_REPLICATE);
  return blurred(cv::Rect(reach, reach, grid.cols - 2 * reach, grid.rows - 2 * reach)).clone();
}

/// Stray light: multiplicative, m = t (1 + κ (t ⊗ h)) / (1 + κ r0), and additive.
void add_stray_light(cv::Mat& light, const Scanner& scanner) {
  if (scanner.flare_kappa == 0 && scanner.veil == 0) return;
  const cv::Mat grid = coarse(light, scanner.dpi);
  constexpr double kCalibratedOn = 0.5;  // r0: the mean reflectance for which the scanner is set up
  cv::Mat wide;
  if (scanner.flare_kappa != 0) {
    cv::resize(haze(grid, scanner.flare_mm), wide, light.size(), 0, 0, cv::INTER_LINEAR);
    cv::Mat factor = (cv::Scalar::all(1) + scanner.flare_kappa * wide) /
                     (1 + scanner.flare_kappa * kCalibratedOn);
    cv::multiply(light, factor, light);
  }
  if (scanner.veil != 0) {
    cv::resize(haze(grid, scanner.veil_mm), wide, light.size(), 0, 0, cv::INTER_LINEAR);
    cv::scaleAdd(wide, scanner.veil, light, light);
  }
}

/// Encoded 16 bit of linear light 0–1, looked up by its square root, where the curve is nearly
/// straight.
class ToneTable {
 public:
  explicit ToneTable(double exponent) {
    for (int i = 0; i <= kSteps; ++i) {
      const double root = static_cast<double>(i) / kSteps;
      values_[i] = static_cast<float>(65535 * std::pow(root * root, 1 / exponent));
    }
  }
  [[nodiscard]] std::uint16_t encode(float light) const {
    const float place = std::sqrt(std::clamp(light, 0.0F, 1.0F)) * kSteps;
    const int i = std::min(static_cast<int>(place), kSteps - 1);
    const float part = place - static_cast<float>(i);
    return static_cast<std::uint16_t>(values_[i] + part * (values_[i + 1] - values_[i]) + 0.5F);
  }

 private:
  static constexpr int kSteps = 8192;
  std::array<float, kSteps + 1> values_{};
};

}  // namespace

const std::array<Spectrum, 3>& sensor_weights() {
  static const std::array<Spectrum, 3> weights = make_sensors();
  return weights;
}

ScanState scan_state(const Scene& scene, const std::string& stage, const std::string& side) {
  ScanState state;
  state.tone = scene.scanner.tone;
  for (const std::string& other : scene.stages) {
    if (other == stage) break;
    state.number += 2;
  }
  if (side == "verso") state.number += 1;
  if (state.number == 0) return state;
  Random random(scene.seed, 4, state.number);
  const double drift = scene.scanner.drift;
  for (int channel = 0; channel < 3; ++channel) {
    state.gain[channel] += 0.03 * drift * static_cast<double>(random.normal());
    state.offset[channel] += 0.002 * drift * static_cast<double>(random.normal());
    state.tone[channel] *= 1 + 0.03 * drift * static_cast<double>(random.normal());
  }
  // Exposure is set so that white does not clip, however the lamp drifts.
  const double most = *std::max_element(state.gain.begin(), state.gain.end());
  if (most > 1.04) {
    for (double& gain : state.gain) gain *= 1.04 / most;
  }
  return state;
}

cv::Mat record(cv::Mat light, const Scene& scene, const ScanState& state) {
  const Scanner& scanner = scene.scanner;
  add_stray_light(light, scanner);
  const std::array<ToneTable, 3> tables{ToneTable(state.tone[0]), ToneTable(state.tone[1]),
                                        ToneTable(state.tone[2])};
  // The lamp's brightness falls along a direction of its own for each scanner.
  Random heading(scene.seed, 5);
  const double angle = heading.uniform(0, 6.28);
  const auto slope_x = static_cast<float>(scanner.gradient * std::cos(angle) / light.cols);
  const auto slope_y = static_cast<float>(scanner.gradient * std::sin(angle) / light.rows);
  const auto noise = static_cast<float>(scanner.noise);
  cv::Mat encoded(light.size(), CV_16UC3);
  cv::parallel_for_({0, light.rows}, [&](const cv::Range& rows) {
    for (int j = rows.start; j < rows.end; ++j) {
      Random random(scene.seed ^ (state.number << 48U), 6, static_cast<std::uint64_t>(j));
      const auto* in = light.ptr<float>(j);
      auto* out = encoded.ptr<std::uint16_t>(j);
      const float down =
          1 + slope_y * (static_cast<float>(j) - 0.5F * static_cast<float>(light.rows));
      for (int i = 0; i < light.cols; ++i) {
        const float lamp =
            down + slope_x * (static_cast<float>(i) - 0.5F * static_cast<float>(light.cols));
        for (int c = 0; c < 3; ++c) {
          float v = std::max(0.0F, in[3 * i + c]) * lamp * static_cast<float>(state.gain[c]);
          // Photon noise over a small constant part.
          v += noise * std::sqrt(0.04F + 0.96F * v) * random.normal();
          out[3 * i + c] = tables[c].encode(v + static_cast<float>(state.offset[c]));
        }
      }
    }
  });
  return encoded;
}

}  // namespace inkwane::simulate
