#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "target/find.hpp"

namespace inkwane::target {
namespace {

constexpr double kTrimmed = 0.1;  // share at either end: dust, scratches
constexpr int kBlocks = 4;        // a patch is cut into 4 × 4 for its standard error
/// Values this close to the end of the scale count as clipped: scanners do not all reach the end.
constexpr std::uint16_t kAlmostWhite = 65535 - 64;

/// Mean of what lies between the trimmed ends. Reorders `values`.
double trimmed_mean(std::vector<float>& values) {
  std::sort(values.begin(), values.end());
  const auto cut = static_cast<std::ptrdiff_t>(kTrimmed * static_cast<double>(values.size()));
  const double sum = std::accumulate(values.begin() + cut, values.end() - cut, 0.0);
  return sum / static_cast<double>(static_cast<std::ptrdiff_t>(values.size()) - 2 * cut);
}

double deviation(const std::vector<double>& values) {
  const double n = static_cast<double>(values.size());
  const double mean = std::accumulate(values.begin(), values.end(), 0.0) / n;
  double squares = 0;
  for (const double v : values) squares += (v - mean) * (v - mean);
  return n > 1 ? std::sqrt(squares / (n - 1)) : 0.0;
}

/// Pixels of one patch, as linear RGB, and in which block each lies.
struct Pixels {
  std::array<std::vector<float>, 3> linear;
  std::vector<int> block;
  int clipped = 0;
};

PatchReading summarise(const Pixels& pixels) {
  PatchReading reading;
  reading.linear.setZero();
  reading.standard_error.setZero();
  reading.spread.setZero();
  const std::size_t n = pixels.block.size();
  if (n == 0) {
    reading.usable = false;
    return reading;
  }
  for (int c = 0; c < 3; ++c) {
    const auto& values = pixels.linear[c];
    // Noise of neighbouring pixels goes together, so the mean is less sure than their number says;
    // the means of blocks tell how sure.
    std::array<std::vector<float>, kBlocks * kBlocks> by_block;
    for (std::size_t i = 0; i < n; ++i) by_block[pixels.block[i]].push_back(values[i]);
    std::vector<double> means;
    for (auto& block : by_block) {
      if (!block.empty()) means.push_back(trimmed_mean(block));
    }
    reading.standard_error[c] = deviation(means) / std::sqrt(static_cast<double>(means.size()));
    reading.spread[c] = deviation({values.begin(), values.end()});
    std::vector<float> sorted = values;
    reading.linear[c] = trimmed_mean(sorted);
  }
  reading.clipped = pixels.clipped / static_cast<double>(n);
  return reading;
}

}  // namespace

std::vector<PatchReading> read_patches(const scan::Scan& scan,
                                       const colour::Linearisation& linearisation,
                                       const Located& located) {
  // The target's axes, from its outer corners.
  const cv::Point2d origin(located.corners[0].x, located.corners[0].y);
  const cv::Point2d across = cv::Point2d(located.corners[1].x, located.corners[1].y) - origin;
  const cv::Point2d along = across * (1 / cv::norm(across));
  const double half = std::max(located.patch_px / 2, 1.0);

  const double reach = half * (std::abs(along.x) + std::abs(along.y)) + 1;
  cv::Rect2d bounds;
  for (const Point& p : located.centres) {
    const cv::Rect2d box(p.x - reach, p.y - reach, 2 * reach, 2 * reach);
    bounds = bounds.empty() ? box : (bounds | box);
  }
  const cv::Rect frame(0, 0, scan.info().width_px, scan.info().height_px);
  const cv::Rect window = cv::Rect(cvFloor(bounds.x), cvFloor(bounds.y), cvCeil(bounds.width) + 1,
                                   cvCeil(bounds.height) + 1) &
                          frame;
  const cv::Mat encoded = scan.read_window(window);

  std::vector<PatchReading> readings;
  for (std::size_t k = 0; k < located.centres.size(); ++k) {
    const cv::Point2d centre(located.centres[k].x - window.x, located.centres[k].y - window.y);
    Pixels pixels;
    const int y0 = std::max(cvCeil(centre.y - reach), 0);
    const int y1 = std::min(cvFloor(centre.y + reach), encoded.rows - 1);
    const int x0 = std::max(cvCeil(centre.x - reach), 0);
    const int x1 = std::min(cvFloor(centre.x + reach), encoded.cols - 1);
    for (int y = y0; y <= y1; ++y) {
      for (int x = x0; x <= x1; ++x) {
        const cv::Point2d d = cv::Point2d(x, y) - centre;
        const double u = d.dot(along), v = along.cross(d);
        if (std::abs(u) > half || std::abs(v) > half) continue;
        const auto* rgb = encoded.ptr<std::uint16_t>(y) + 3 * x;
        std::array<float, 3> linear{};
        linearisation.apply({rgb, 3}, linear);
        for (int c = 0; c < 3; ++c) pixels.linear[c].push_back(linear[c]);
        const auto cell = [half](double t) {
          return std::clamp(static_cast<int>((t / half + 1) / 2 * kBlocks), 0, kBlocks - 1);
        };
        pixels.block.push_back(cell(v) * kBlocks + cell(u));
        pixels.clipped += std::any_of(
            rgb, rgb + 3, [](std::uint16_t value) { return value == 0 || value >= kAlmostWhite; });
      }
    }
    readings.push_back(summarise(pixels));
    readings.back().usable = readings.back().usable && located.usable[k];
  }
  return readings;
}

}  // namespace inkwane::target
