// Dense refinement: the smooth field by which one picture must be pulled to lie on another.
// Internal to this room.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "align/structure.hpp"

namespace inkwane::align {

/// A smooth displacement on a lattice. Node (i, j) stands for a block of kBlock × kBlock cells and
/// is centred on cell (i + ½) kBlock − ½.
struct Field {
  static constexpr int kBlock = 8;
  cv::Size cells;    ///< the grid that it covers
  cv::Mat nodes;     ///< CV_32FC2, displacement in cells
  cv::Mat variance;  ///< CV_32FC1, formal variance of the displacement along its worst direction,
                     ///< cells²

  [[nodiscard]] static Field zero(cv::Size cells);
  /// Displacement at every cell, CV_32FC2; linear between nodes, which are so close that a cubic
  /// would change nothing but could ripple.
  [[nodiscard]] cv::Mat at_cells() const;
  [[nodiscard]] cv::Point2d at(cv::Point2d cell) const;
};

/// One level of the two pictures, on the same grid reduced by `factor`.
struct Pair {
  int factor = 1;
  Signal first, second;
};

/// One run of passes at a level.
struct Pass {
  const Pair* pair = nullptr;
  double window = 0;  ///< standard deviation of the window, in cells of the full grid
  int rounds = 1;
};

/// Iterates windowed least squares (Lucas and Kanade, IJCAI 1981) from `start`: first(x) ≈ second(x
/// + d(x)). A window's tail lends displacement from further off to places that have no structure of
/// their own, so that the field stays smooth there. `use`: CV_32FC1 on the lattice, weight of a
/// block, or empty.
[[nodiscard]] Field refine(Field start, const std::vector<Pass>& passes, const cv::Mat& use);

/// `picture` on the reduced grid, pulled by the field.
[[nodiscard]] cv::Mat pull(const cv::Mat& picture, const Field& field, int factor,
                           int interpolation);

}  // namespace inkwane::align
