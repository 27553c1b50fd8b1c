// How the stored rows of a file lie when the picture is displayed (Exif 2.3, tag 274; the same
// values in TIFF 6.0).
#pragma once

#include <opencv2/core.hpp>

namespace inkwane::scan {

enum class Orientation : int {
  upright = 1,
  mirrored = 2,
  upside_down = 3,
  flipped = 4,
  transposed = 5,
  clockwise = 6,  ///< to be turned a quarter clockwise for display
  transverse = 7,
  anticlockwise = 8,
};

/// The value of an orientation tag; values that the standard does not have mean upright.
[[nodiscard]] constexpr Orientation orientation_of(long tag) {
  return tag >= 1 && tag <= 8 ? static_cast<Orientation>(tag) : Orientation::upright;
}

/// Quarter turns exchange width and height.
[[nodiscard]] constexpr bool swaps_sides(Orientation orientation) {
  return orientation >= Orientation::transposed;
}

/// Where stored rows come in the order of display, so that they can be streamed.
[[nodiscard]] constexpr bool keeps_rows(Orientation orientation) {
  return orientation <= Orientation::mirrored;
}

/// `shown`, a rectangle of the displayed picture, in the stored one of size `stored`.
[[nodiscard]] cv::Rect to_stored(const cv::Rect& shown, const cv::Size& stored,
                                 Orientation orientation);

/// Puts the rows from `first_row` of a stored window of `rows` rows into `shown`, the whole window
/// as displayed, allocated by the caller.
void place_rows(const cv::Mat& strip, int first_row, int rows, Orientation orientation,
                cv::Mat& shown);

}  // namespace inkwane::scan
