// A scan with a target in it, painted from its reference values with a known place.
#pragma once

#include <filesystem>
#include <functional>
#include <vector>

#include <opencv2/core.hpp>

#include "target/reference.hpp"

namespace inkwane::test {

struct Painting {
  cv::Size size{1000, 800};
  cv::Point2d first{300, 250};  ///< outer corner of the first patch
  double degrees = 0;           ///< turn about that corner, clockwise as seen
  double patch = 60, gap = 8;   ///< pixels
  double border = 40;           ///< of the card, around the patches
  bool mirrored = false;
  cv::Vec3d card{0.12, 0.12, 0.13}, backing{0.93, 0.93, 0.92};  ///< encoded
  double noise = 0.004;                                         ///< encoded, standard deviation
  /// Painted over everything else: places in pixels and encoded colours.
  std::vector<std::pair<cv::Rect, cv::Vec3d>> covers;
  /// Painted below the card.
  std::vector<std::pair<cv::Rect, cv::Vec3d>> sheet;
  /// The light the patches are seen in: encoded sRGB → encoded.
  std::function<cv::Vec3d(const cv::Vec3d&)> cast = [](const cv::Vec3d& c) { return c; };
};

/// CV_16UC3.
cv::Mat paint(const target::Reference& reference, const Painting& painting);

/// Outer corners of the first, last-in-row-1, last and first-in-last-row patch, in pixels.
std::array<cv::Point2d, 4> true_corners(const target::Reference& reference,
                                        const Painting& painting);
/// Corners of the card, in the same order.
std::vector<cv::Point2d> true_card(const target::Reference& reference, const Painting& painting);

}  // namespace inkwane::test
