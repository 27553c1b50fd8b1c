// Areas as polygons: what was painted or grown cell by cell, and lines with a width.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include <inkwane/treatment.hpp>

namespace inkwane::region {

/// The outer border of a mask's largest piece (CV_8UC1, other than 0 inside) as a polygon that does
/// not cross itself, in cells; it runs along the cells' edges, smoothed by at most `tolerance`
/// cells. Holes are filled. Empty where the mask is.
[[nodiscard]] std::vector<Point> trace(const cv::Mat& mask, double tolerance);

/// A polygon that does not cross itself from one that may, drawn by a hand: what its even–odd or
/// doubled parts enclose, in the same units. `tolerance` as above, in those units.
[[nodiscard]] std::vector<Point> tidied(const std::vector<Point>& drawn, double tolerance);

/// The area of a line of this width as a polygon, its ends flat; where it turns so sharply that its
/// edges would cross, its ends and turns are round. Empty where it has no length or no width.
[[nodiscard]] std::vector<Point> stroke(const std::vector<Point>& line, double width);

}  // namespace inkwane::region
