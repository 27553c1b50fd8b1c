#include "bath/weighting.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace inkwane::bath {
namespace {

constexpr double kStepNm = 5;

constexpr std::array<double, 81> kPhotopic{
    0.000039, 0.000064, 0.00012,  0.000217, 0.000396, 0.00064,  0.00121, 0.00218,  0.0040,
    0.0073,   0.0116,   0.01684,  0.023,    0.0298,   0.038,    0.048,   0.060,    0.0739,
    0.09098,  0.1126,   0.13902,  0.1693,   0.20802,  0.2586,   0.323,   0.4073,   0.503,
    0.6082,   0.71,     0.7932,   0.862,    0.91485,  0.954,    0.9803,  0.99495,  1.0,
    0.995,    0.9786,   0.952,    0.9154,   0.87,     0.8163,   0.757,   0.6949,   0.631,
    0.5668,   0.503,    0.4412,   0.381,    0.321,    0.265,    0.217,   0.175,    0.1382,
    0.107,    0.0816,   0.061,    0.04458,  0.032,    0.0232,   0.017,   0.01192,  0.00821,
    0.005723, 0.004102, 0.002929, 0.002091, 0.001484, 0.001047, 0.00074, 0.00052,  0.000361,
    0.000249, 0.000172, 0.00012,  0.000085, 0.00006,  0.000042, 0.00003, 0.000021, 0.000015};
constexpr double kPhotopicFrom = 380;

// 380 to 500 nm; 0.01 below, 10^((450 − λ)/50) to 600 nm, 0.001 to 700 nm.
constexpr std::array<double, 25> kBlue{0.01, 0.0125, 0.025, 0.05, 0.10, 0.20, 0.40, 0.80, 0.90,
                                       0.95, 0.98,   1.00,  1.00, 0.97, 0.94, 0.90, 0.80, 0.70,
                                       0.62, 0.55,   0.45,  0.40, 0.22, 0.16, 0.10};
constexpr double kBlueFrom = 380, kBlueTo = 500;

/// Straight in the logarithm between the entries, as both functions are steep.
template <std::size_t N>
double interpolate(const std::array<double, N>& table, double from, double nm) {
  const double place = (nm - from) / kStepNm;
  const auto below = std::min(static_cast<std::size_t>(place), N - 2);
  const double along = place - static_cast<double>(below);
  return table[below] * std::pow(table[below + 1] / table[below], along);
}

}  // namespace

double luminous_efficiency(double nm) {
  const double last = kPhotopicFrom + kStepNm * (kPhotopic.size() - 1);
  if (!(nm >= kPhotopicFrom && nm <= last)) return 0;
  return interpolate(kPhotopic, kPhotopicFrom, nm);
}

double blue_light_hazard(double nm) {
  if (!(nm >= 300 && nm <= 700)) return 0;
  if (nm < kBlueFrom) return kBlue.front();
  if (nm <= kBlueTo) return interpolate(kBlue, kBlueFrom, nm);
  return nm <= 600 ? std::pow(10, (450 - nm) / 50) : 0.001;
}

double band_mean(const std::function<double(double)>& weight, double peak_nm, double width_nm) {
  const double sigma = width_nm / (2 * std::sqrt(2 * std::log(2.0)));
  if (!(sigma > 0)) return weight(peak_nm);
  // Steps of a hundredth of the band out to four standard deviations, beyond which lie 0.006 %.
  constexpr int kSteps = 400;
  double sum = 0, power = 0;
  for (int i = -kSteps; i <= kSteps; ++i) {
    const double along = 4.0 * i / kSteps;
    const double share = std::exp(-along * along / 2);
    sum += share * weight(peak_nm + along * sigma);
    power += share;
  }
  return sum / power;
}

}  // namespace inkwane::bath
