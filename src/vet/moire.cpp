#include "vet/moire.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "change/colour_space.hpp"
#include "change/screen_reading.hpp"

namespace inkwane::vet {
namespace {

constexpr int kWindowCells = 16;  // 256 px a side
constexpr std::size_t kWindows = 24;
// Three pixels a dot: from there on what a pixel averages away is more than half of the dots'
// contrast, and the second harmonic folds back among the low frequencies. Common practice, no
// source.
constexpr double kNearPixels = 0.36;
constexpr double kCoarseDpi = 297;  // 300, rounded down a little
/// Screens are looked for up to the corners of what the pixels can show.
constexpr double kFinest = 0.7;

/// Corners of the windows whose cells vary most, the most varied first, none overlapping.
std::vector<cv::Point> textured_windows(const PixelFacts& facts) {
  cv::Mat within;
  cv::extractChannel(facts.deviation, within, 1);
  cv::Mat clipped = (facts.dark > 0) | (facts.bright > 0);
  within.setTo(0, clipped);
  std::vector<std::pair<double, cv::Point>> windows;
  for (int y = 0; y + kWindowCells < within.rows; y += kWindowCells) {
    for (int x = 0; x + kWindowCells < within.cols; x += kWindowCells) {
      // The median: an edge across flat colour is no texture.
      cv::Mat cells = within(cv::Rect(x, y, kWindowCells, kWindowCells)).clone().reshape(1, 1);
      cv::sort(cells, cells, cv::SORT_EVERY_ROW);
      windows.emplace_back(cells.at<float>(cells.cols / 2), cv::Point(x, y) * kCellPx);
    }
  }
  std::stable_sort(windows.begin(), windows.end(),
                   [](const auto& a, const auto& b) { return a.first > b.first; });
  std::vector<cv::Point> out;
  for (std::size_t i = 0; i < std::min(kWindows, windows.size()); ++i)
    out.push_back(windows[i].second);
  return out;
}

change::RegionPixels pixels_of(const scan::Scan& scan, const cv::Rect& window,
                               const colour::Linearisation& linearisation) {
  const cv::Mat encoded = scan.read_window(window);
  change::RegionPixels out;
  out.sharp.create(encoded.size(), CV_32FC3);
  const Eigen::Matrix3f to_sharp = (change::sharpening() * linearisation.to_xyz()).cast<float>();
  std::vector<float> linear(3 * static_cast<std::size_t>(encoded.cols));
  for (int y = 0; y < encoded.rows; ++y) {
    linearisation.apply({encoded.ptr<std::uint16_t>(y), linear.size()}, linear);
    auto* row = out.sharp.ptr<cv::Vec3f>(y);
    for (int x = 0; x < encoded.cols; ++x) {
      const float* rgb = linear.data() + 3 * static_cast<std::ptrdiff_t>(x);
      const Eigen::Vector3f sharp = to_sharp * Eigen::Vector3f(rgb[0], rgb[1], rgb[2]);
      row[x] = {sharp[0], sharp[1], sharp[2]};
    }
  }
  cv::createHanningWindow(out.weight, encoded.size(), CV_32F);
  return out;
}

}  // namespace

std::optional<Dots> find_dots(const scan::Scan& scan, const PixelFacts& facts,
                              const colour::Linearisation& linearisation) {
  constexpr int kAgree = 2;  // windows: one alone may hold a grid or a fabric
  const double dpi = scan.info().resolution_dpi.value_or(300);
  const bool jpeg = scan.info().format == scan::Format::jpeg;
  std::vector<double> frequencies;
  for (const cv::Point corner : textured_windows(facts)) {
    const cv::Rect window(corner, cv::Size(kWindowCells, kWindowCells) * kCellPx);
    const change::ScreenSpectrum spectrum(pixels_of(scan, window, linearisation));
    const auto found = spectrum.find(dpi, jpeg, kFinest).found;
    if (!found.empty()) frequencies.push_back(found.front().frequency());
  }
  if (frequencies.size() < kAgree) return std::nullopt;
  // Several screens may lie on a sheet; the finest beats first.
  std::sort(frequencies.begin(), frequencies.end());
  return Dots{frequencies[frequencies.size() - kAgree]};
}

Finding judge(const Dots& dots, double resolution_dpi) {
  const double ruling = dots.cycles_per_px * resolution_dpi;
  const std::string advice = "scan at 600 dpi or more";
  if (dots.cycles_per_px > kNearPixels) {
    return {Verdict::note,
            fmt::format("dots at {:.0f} lines an inch come near the pixels ({:.1f} pixels a dot): "
                        "moiré",
                        ruling, 1 / dots.cycles_per_px),
            advice};
  }
  if (resolution_dpi < kCoarseDpi) {
    return {Verdict::note,
            fmt::format("dots at {:.0f} lines an inch may be moiré of a finer screen", ruling),
            advice};
  }
  return {Verdict::good,
          fmt::format("dots at {:.0f} lines an inch stand clear of the pixels", ruling), ""};
}

}  // namespace inkwane::vet
