// Areas → coverage masks, through Cairo and Pango.
#pragma once

#include <memory>

#include "simulate/scene.hpp"

namespace inkwane::simulate {

/// A grid of square cells on a side of the sheet: cell (i, j) covers origin_mm + pitch_mm [i, i+1)
/// × [j, j+1).
struct Window {
  cv::Point2d origin_mm;
  double pitch_mm = 0.1;
  cv::Size size;
  [[nodiscard]] cv::Point2d centre_mm(int i, int j) const {
    return origin_mm + pitch_mm * cv::Point2d(i + 0.5, j + 0.5);
  }
};

/// The form of an area, ready to be drawn again and again. Screens are not in it.
class Shape {
 public:
  explicit Shape(const Area& area);
  explicit Shape(const Polygon& outline_mm);

  /// Cells of the window that the shape may touch.
  [[nodiscard]] cv::Rect bounds(const Window& window) const;
  /// Coverage of the cells of `part` of the window, CV_8UC1, 255 for full.
  [[nodiscard]] cv::Mat coverage(const Window& window, const cv::Rect& part) const;

 private:
  struct Path;
  std::shared_ptr<const Path> path_;
  cv::Rect2d extent_mm_;
};

/// A halftone screen: dots of one form on a square lattice.
class Screen {
 public:
  /// `coverage` is met on average over whole periods, for every form of dot.
  Screen(double lpi, double angle_degrees, double coverage, DotShape dot);
  explicit Screen(const Area& area)
      : Screen(area.screen_lpi, area.screen_angle, area.coverage, area.dot) {}

  /// Multiplies a mask (CV_8UC1, the cells of `part` of the window) by the dots, with soft edges.
  void multiply(cv::Mat& mask, const Window& window, const cv::Rect& part) const;

 private:
  DotShape dot_;
  double period_mm_ = 1, cos_ = 1, sin_ = 0;
  double threshold_ = 0;
  bool full_ = false, none_ = false;
};

}  // namespace inkwane::simulate
