// The exact place of a target, from the edges of its patches.
#pragma once

#include <optional>
#include <vector>

#include <opencv2/core.hpp>

namespace inkwane::target {

/// Where the patches lie: patch (row, column) is centred on patch coordinates (column, row) and
/// covers `width` × `height` of a step.
struct Place {
  cv::Matx33d to_picture;
  double width = 0.9, height = 0.9;
  /// Outer corners of the first, last-in-row-1, last and first-in-last-row patch.
  [[nodiscard]] std::vector<cv::Point2d> corners(int rows, int columns, double margin = 0) const;
};

/// Fits the place to the patches' edges, found to a fraction of a pixel in `picture` (CV_32FC3,
/// encoded 0–1), starting from `to_picture`, which must be right to a fifth of a step. None where
/// too few edges show.
[[nodiscard]] std::optional<Place> refine(const cv::Mat& picture, const cv::Matx33d& to_picture,
                                          int rows, int columns);

/// Outline of the card about the patches: out to where its border ends, or half a patch where the
/// border cannot be told from what lies around. Four points, from the first patch's corner on.
[[nodiscard]] std::vector<cv::Point2d> card_outline(const cv::Mat& picture, const Place& place,
                                                    int rows, int columns);

}  // namespace inkwane::target
