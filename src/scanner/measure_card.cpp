#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "scanner/card_fit.hpp"
#include "scanner/edge.hpp"
#include "scanner/scanner.hpp"

namespace inkwane::scanner {
namespace {

/// What varies over more than this is the print and the lamp, not noise.
constexpr double kNoiseWithinMm = 1;
/// Chips of a kind that still differ by more make κ doubtful: a good office print keeps 1 to 2 %
/// (common practice, no source).
constexpr double kUnlikeChips = 0.025;

struct Level {
  Eigen::Vector3d light = Eigen::Vector3d::Zero(), variance = Eigen::Vector3d::Zero();
};

/// Mean light, and the variance of single pixels about their neighbourhood, from the share of 68 %
/// that lies within one standard deviation of a normal distribution: dust does not count.
Level level_of(const Part& part, double px_per_mm) {
  constexpr double kWithinOne = 0.6827;
  const int side = std::max(3, static_cast<int>(std::lround(kNoiseWithinMm * px_per_mm)));
  cv::Mat smooth;
  cv::boxFilter(part.light, smooth, CV_32F, {side, side});
  const double kept = 1 - 1.0 / (side * side);  // of the variance, after the mean was taken off
  Level level;
  for (int c = 0; c < 3; ++c) {
    std::vector<double> off;
    for (int y = 0; y < part.light.rows; ++y) {
      for (int x = 0; x < part.light.cols; ++x) {
        const double v = static_cast<double>(part.light.at<cv::Vec3f>(y, x)[c]);
        level.light[c] += v / static_cast<double>(part.light.total());
        off.push_back(std::abs(v - static_cast<double>(smooth.at<cv::Vec3f>(y, x)[c])));
      }
    }
    const auto at =
        off.begin() + static_cast<std::ptrdiff_t>(kWithinOne * static_cast<double>(off.size()));
    std::nth_element(off.begin(), at, off.end());
    level.variance[c] = *at * *at / kept;
  }
  return level;
}

/// From bare paper and solid black, which carry no screen: σ² = floor² + slope² m through both.
Noise measure_noise(const CardReadings& readings, double px_per_mm) {
  std::array<Level, 2> levels;  // black, white
  for (std::size_t f = 0; f < 4; ++f) {
    const Level level = level_of(readings.fields[f], px_per_mm);
    Level& mean = levels[card::fields()[f].black ? 0 : 1];
    mean.light += 0.5 * level.light;
    mean.variance += 0.5 * level.variance;
  }
  Noise noise;
  for (int c = 0; c < 3; ++c) {
    const double rise = levels[1].light[c] - levels[0].light[c];
    const double slope2 = std::max(0.0, (levels[1].variance[c] - levels[0].variance[c]) / rise);
    noise.slope[c] = std::sqrt(slope2);
    noise.floor[c] = std::sqrt(std::max(0.0, levels[0].variance[c] - slope2 * levels[0].light[c]));
  }
  return noise;
}

Scanner measure(const scan::Scan& scan) {
  const scan::Info& info = scan.info();
  const std::string file = info.file.string();
  Scanner scanner;
  scanner.file = info.file.filename().string();
  scanner.sha256 = info.sha256;
  const auto linearisation = colour::Linearisation::from_profile(info.icc, file);
  scanner.profile = linearisation.description();
  for (const std::string& warning : info.warnings) scanner.warnings.push_back(warning);

  const CardPlace place = find_card(scan);
  constexpr double kMmPerInch = 25.4;
  scanner.resolution_dpi = info.resolution_dpi.value_or(place.px_per_mm * kMmPerInch);
  if (!info.resolution_dpi) {
    scanner.doubtful = true;
    scanner.warnings.push_back(
        fmt::format("Without a resolution in the file, {:.0f} dpi follow from the card printed at "
                    "100 %; if it was not, all lengths are off.",
                    scanner.resolution_dpi));
  }
  const CardReadings readings = read_card(scan, linearisation, place);
  const StrayLightFit fit = fit_stray_light(readings, place, file);
  scanner.stray_light = fit.estimate;
  if (fit.chips_rms > kUnlikeChips) {
    scanner.doubtful = true;
    scanner.warnings.push_back(
        fmt::format("Chips of a kind still differ by {:.1f} %, so the stray light is uncertain; a "
                    "better print of the card tells more.",
                    100 * fit.chips_rms));
  }
  if (fit.veil > 0.005 && fit.veil > 2 * fit.u_veil) {
    scanner.doubtful = true;
    scanner.warnings.push_back(
        fmt::format("Some {:.1f} % of the light about a place is added to it, whatever its own "
                    "colour; this is not corrected, and darks near light paper read too light: "
                    "clean the glass and the lamp's window, and measure again.",
                    100 * fit.veil));
  }
  scanner.point_spread = measure_point_spread(readings, place, file);
  scanner.noise = measure_noise(readings, place.px_per_mm);
  return scanner;
}

}  // namespace

Scanner measure_card(const scan::Scan& scan) {
  try {
    return measure(scan);
  } catch (const cv::Exception& error) {
    throw Error(
        ExitCode::scan,
        fmt::format("{}: the scanner's card could not be measured ({}); scan the whole page "
                    "flat and clean.",
                    scan.info().file.string(), error.err));
  }
}

}  // namespace inkwane::scanner
