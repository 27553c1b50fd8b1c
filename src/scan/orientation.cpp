#include "scan/orientation.hpp"

namespace inkwane::scan {

cv::Rect to_stored(const cv::Rect& shown, const cv::Size& stored, Orientation orientation) {
  const int left = shown.x, top = shown.y, wide = shown.width, high = shown.height;
  const int columns = stored.width, rows = stored.height;
  switch (orientation) {
    case Orientation::upright:
      return shown;
    case Orientation::mirrored:
      return {columns - left - wide, top, wide, high};
    case Orientation::upside_down:
      return {columns - left - wide, rows - top - high, wide, high};
    case Orientation::flipped:
      return {left, rows - top - high, wide, high};
    case Orientation::transposed:
      return {top, left, high, wide};
    case Orientation::clockwise:
      return {top, rows - left - wide, high, wide};
    case Orientation::transverse:
      return {columns - top - high, rows - left - wide, high, wide};
    case Orientation::anticlockwise:
      return {columns - top - high, left, high, wide};
  }
  return shown;
}

void place_rows(const cv::Mat& strip, int first_row, int rows, Orientation orientation,
                cv::Mat& shown) {
  const int count = strip.rows, from_end = rows - first_row - count;
  // A view of the right size and type: OpenCV writes into it and allocates nothing.
  cv::Mat place;
  switch (orientation) {
    case Orientation::upright:
      place = shown.rowRange(first_row, first_row + count);
      strip.copyTo(place);
      break;
    case Orientation::mirrored:
      place = shown.rowRange(first_row, first_row + count);
      cv::flip(strip, place, 1);
      break;
    case Orientation::upside_down:
      place = shown.rowRange(from_end, from_end + count);
      cv::flip(strip, place, -1);
      break;
    case Orientation::flipped:
      place = shown.rowRange(from_end, from_end + count);
      cv::flip(strip, place, 0);
      break;
    case Orientation::transposed:
      place = shown.colRange(first_row, first_row + count);
      cv::transpose(strip, place);
      break;
    case Orientation::clockwise:
      place = shown.colRange(from_end, from_end + count);
      cv::rotate(strip, place, cv::ROTATE_90_CLOCKWISE);
      break;
    case Orientation::transverse: {
      cv::Mat turned;
      cv::transpose(strip, turned);
      place = shown.colRange(from_end, from_end + count);
      cv::flip(turned, place, -1);
      break;
    }
    case Orientation::anticlockwise:
      place = shown.colRange(first_row, first_row + count);
      cv::rotate(strip, place, cv::ROTATE_90_COUNTERCLOCKWISE);
      break;
  }
}

}  // namespace inkwane::scan
