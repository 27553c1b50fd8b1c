// The maps of an assessment, to be laid over a scan.
#pragma once

#include <filesystem>
#include <vector>

#include <opencv2/core.hpp>

#include "map/picture.hpp"

namespace inkwane::desk {

/// Values of a map (docs/formats.md, "Maps") with one channel, CV_32FC1. Throws Error(scan) that
/// names the file.
[[nodiscard]] cv::Mat read_map(const std::filesystem::path& file);

/// Its columns and rows, from its header alone. Throws Error(scan).
[[nodiscard]] cv::Size map_size(const std::filesystem::path& file);

/// A PNG of the map's colours, see-through where its style lets the scan be seen or where there is
/// no value; at most `longest_px` a side.
[[nodiscard]] std::vector<unsigned char> overlay_png(const cv::Mat& values, const map::Style& style,
                                                     int longest_px);

/// CSS colours of the style's scale from its low end to its high end, as many as asked for (≥ 2).
[[nodiscard]] std::vector<std::string> scale_colours(const map::Style& style, int count);

}  // namespace inkwane::desk
