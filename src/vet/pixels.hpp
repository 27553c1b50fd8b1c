// What one pass over a scan's pixels tells about how it was made.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include <opencv2/core.hpp>

#include "colour/icc.hpp"
#include "scan/scan.hpp"

namespace inkwane::vet {

/// Side of the cells in which pixels are summed up: below a millimetre at 600 dpi.
inline constexpr int kCellPx = 16;

/// Sums over the scan. Values are encoded, 0–1.
struct PixelFacts {
  cv::Mat mean, deviation;  ///< CV_32FC3, one value a cell: mean, and standard deviation of pixels
  cv::Mat dark, bright;     ///< CV_32FC1: share of a cell's pixels at either end of the scale
  std::array<std::vector<std::uint32_t>, 3> histogram;  ///< of the 65,536 values
  /// Small steps between neighbouring columns (first) and rows (second), by column or row modulo 8.
  std::array<std::array<double, 8>, 2> steps{};
};

[[nodiscard]] PixelFacts look_at_pixels(const scan::Scan& scan);

/// Share of the picture at the dark and at the bright end, less areas of cells that touch the
/// frame's edge: an unlit lid or a white backing may well be out of range.
struct Clipping {
  double dark = 0, bright = 0;
  bool backing = false;  ///< such an area was left out
};
[[nodiscard]] Clipping clipping(const PixelFacts& facts);

/// Gaps and levels of the histogram, of the worst channel, between its 1st and 99th percentile.
struct Comb {
  int levels = 0;       ///< values that occur
  double gaps = 0;      ///< share of 8-bit levels that are (nearly) missing between full ones
  bool sparse = false;  ///< a 16-bit file with no more values than 8 bits have
};
[[nodiscard]] Comb comb(const PixelFacts& facts, int bit_depth);

/// How much stronger the steps at every 8th column and row are than elsewhere; about 0 without
/// blocks of 8 × 8.
[[nodiscard]] double block_grid(const PixelFacts& facts);

/// Standard deviation of L* of single pixels in the flattest parts of the scan. None where nothing
/// is flat and within the scale.
[[nodiscard]] std::optional<double> flat_noise(const PixelFacts& facts,
                                               const colour::Linearisation& linearisation);

/// Slope of light over the lightest flat area (bare paper, or a white backing).
struct Slope {
  double across = 0, along = 0;  ///< largest ÷ least light along a row, along a column, less 1
};
/// None where that area spans too little of the frame to tell.
[[nodiscard]] std::optional<Slope> light_slope(const PixelFacts& facts,
                                               const colour::Linearisation& linearisation);

}  // namespace inkwane::vet
