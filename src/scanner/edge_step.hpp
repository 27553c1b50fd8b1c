// The blur of one straight edge, by the slanted-edge method (ISO 12233, from memory) with a
// Gaussian for the unknown profile.
#pragma once

#include <optional>
#include <vector>

#include <opencv2/core.hpp>

namespace inkwane::scanner {

/// Pixels beside one edge: how far across it they lie (pixels, positive outwards), how far along it
/// (−1 to 1), and their light.
struct Edge {
  std::vector<double> along, across, light;
};

/// Pixels of a picture of linear light (CV_32FC3, the mean of its channels) within `reach` across
/// and `half` along an edge. `middle`: of the edge, in the picture; `outward`: unit vector across
/// it.
[[nodiscard]] Edge edge_about(const cv::Mat& light, cv::Point2d middle, cv::Point2d outward,
                              double reach, double half);

/// Variance, px², of the Gaussian that blurs a step before a pixel averages over its width; none
/// where the light steps by less than `least_step`, or too few pixels show it within `reach`
/// (pixels, as of edge_about).
[[nodiscard]] std::optional<double> fit_step(const Edge& edge, double reach, double least_step);

}  // namespace inkwane::scanner
