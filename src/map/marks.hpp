// Lines and outlines drawn over a side of the sheet.
#pragma once

#include <vector>

#include "map/picture.hpp"
#include "map/sheet.hpp"

namespace inkwane::map {

/// Draws marks over the sheet's picture, which lies at `frame`; `geometry` is of that picture.
void draw_marks(Sheet& sheet, const cv::Rect& frame, const grid::Geometry& geometry,
                const std::vector<Mark>& marks);

/// A scale bar that ends at `right`: the longest of 1, 2, 5, 10 … mm that is no longer than
/// `longest_px`.
void draw_scale_bar(Sheet& sheet, cv::Point right, int longest_px, double px_per_mm);

}  // namespace inkwane::map
