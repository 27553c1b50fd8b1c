// The four edges of a sheet. Internal to this room.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <opencv2/core.hpp>

#include "grid/grid.hpp"

namespace inkwane::align {

/// Corners from the top left clockwise.
using Quad = std::array<cv::Point2d, 4>;

/// Four straight edges fitted to a mask's border; none where it has no such shape.
[[nodiscard]] std::optional<Quad> fit_quad(const cv::Mat& mask);

/// Overlap of a mask and a quad: intersection over union.
[[nodiscard]] double overlap(const cv::Mat& mask, const Quad& quad);

/// Moves each edge of the quad (in cells) to where the light changes half-way from the paper's to
/// what lies beside it, found on profiles across the edge, and intersects the edges anew.
[[nodiscard]] Quad refine_quad(const Quad& quad, const grid::Grid& grid);

/// What an edge of the quad looks like across.
struct EdgeLook {
  bool on_frame = false;  ///< it runs along the frame's own edge, so nothing can be said
  double line_depth =
      0;  ///< how much darker (lightness 0–1) a line along it is than both of its sides
  double step_dE = 0;  ///< ΔE*ab of the typical colours on its two sides
};

[[nodiscard]] std::array<EdgeLook, 4> look_across(const Quad& quad, const grid::Grid& grid);

/// The quad pushed outwards by `by` cells (inwards where negative).
[[nodiscard]] Quad grown(const Quad& quad, double by);

}  // namespace inkwane::align
