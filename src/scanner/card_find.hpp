// Where the scanner's card lies in a scan.
#pragma once

#include <opencv2/core.hpp>

#include "scan/scan.hpp"

namespace inkwane::scanner {

/// From the card's millimetres (card_layout.hpp) to the scan's pixels.
struct CardPlace {
  cv::Matx23d to_px_matrix;
  /// Millimetres as printed: 1 unless the printer scaled the page, or the scan states no
  /// resolution.
  double px_per_mm = 1;

  [[nodiscard]] cv::Point2d to_px(cv::Point2d mm) const {
    const cv::Vec2d px = to_px_matrix * cv::Vec3d(mm.x, mm.y, 1);
    return {px[0], px[1]};
  }
};

/// Finds the card by its four marks, at any quarter turn and some degrees of tilt. Throws
/// Error(scan), naming the file, where it is not there, not whole, mirrored, or not lying flat.
[[nodiscard]] CardPlace find_card(const scan::Scan& scan);

}  // namespace inkwane::scanner
