// Sizes that a scan may have, checked before anything is allocated.
#pragma once

#include "scan/decoder.hpp"

namespace inkwane::scan {

/// Smaller pictures hold neither a sheet nor a target.
inline constexpr int kMinSidePx = 16;
/// Scans that must be held in memory whole (quarter turns, interlaced and progressive files): an A3
/// sheet at 1200 dpi has 279 million pixels.
inline constexpr std::int64_t kMaxWholePixels = 300'000'000;

/// Throws Error(scan) for a picture that is too small, or larger than kMaxSidePx or kMaxPixels.
[[nodiscard]] cv::Size checked_size(const InputFile& input, std::uint64_t width,
                                    std::uint64_t height);

/// Throws Error(scan) if a file of this length cannot hold `bytes` of pixels, compressed at most
/// `ratio` : 1. Header fields that lie are found so without decoding.
void check_can_hold(const InputFile& input, const cv::Size& size, std::uint64_t bytes,
                    double ratio);

/// Throws Error(scan) if the picture must be held whole and is too large for that.
void check_whole(const InputFile& input, const Header& header);

/// CV_16UC3. Throws Error(output) if memory ran out.
[[nodiscard]] cv::Mat allocate(const std::filesystem::path& path, int rows, int columns);

}  // namespace inkwane::scan
