// Scans as files.
#pragma once

#include <cstdint>
#include <filesystem>
#include <vector>

#include <opencv2/core.hpp>

namespace inkwane::simulate {

/// TIFF, deflate, 8 or 16 bit, resolution and ICC profile (empty: none) kept. `encoded`: CV_16UC3,
/// R G B. Throws Error(output).
void write_tiff(const std::filesystem::path& file, const cv::Mat& encoded, int bit_depth,
                double dpi, const std::vector<std::uint8_t>& icc);

/// JPEG, quality 92. The same otherwise.
void write_jpeg(const std::filesystem::path& file, const cv::Mat& encoded, double dpi,
                const std::vector<std::uint8_t>& icc);

}  // namespace inkwane::simulate
