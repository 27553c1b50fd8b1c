// How much each cell counts towards a region's mean colour.
#pragma once

#include <Eigen/Core>

#include "change/change.hpp"

namespace inkwane::change {

/// Weights of sum 1 on a window of the grid; empty where nothing of the region was measured.
struct RegionWeights {
  cv::Rect bounds;
  cv::Mat weight;  ///< CV_32FC1
  /// Variance of the mean for cells of variance 1 whose noise was averaged over the aperture.
  double noise_gain = 0;
  /// CV_32FC1, of sum 0: what the mean moves by if the light exchanged across the edge was not just
  /// what outline and aperture make of it (paper spreads light, ink has no sharp edge); one
  /// standard deviation. Empty where nothing lies beside the region.
  cv::Mat edge;
};

/// Share of each cell of `bounds` that the polygon (in cells; cell i spans i ± ½) covers.
/// CV_32FC1; exact along rows, sampled at eight lines a row; even–odd rule.
[[nodiscard]] cv::Mat coverage(const std::vector<Point>& polygon_cells, const cv::Rect& bounds);

/// The polygon, eroded by `misfit_mm` unless that would leave less than half of it, restricted to
/// cells valid in all of `layers`. The cells carry light already averaged over the aperture, so
/// light of the surroundings has come in at the region's edge and light of its own has gone; the
/// weights take that off again, as it follows from the outline, the aperture and the light found
/// within an aperture's width beside the region (negative weights), so that a thin line keeps its
/// own colour.
[[nodiscard]] RegionWeights region_weights(const region::Mask& mask, const grid::Geometry& geometry,
                                           const std::vector<const Layer*>& layers,
                                           double misfit_mm, double aperture_mm);

/// Weighted mean of a CV_32FC3 layer with the weights moved by whole cells; cells that are not
/// measured there are left out. NaN if that is more than half of the weight.
[[nodiscard]] Eigen::Vector3d weighted_mean(const cv::Mat& layer, const RegionWeights& weights,
                                            cv::Point shift = {});

/// Sum of a CV_32FC3 layer times RegionWeights::edge; cells that are not measured count nothing.
[[nodiscard]] Eigen::Vector3d edge_error(const cv::Mat& layer, const RegionWeights& weights);

}  // namespace inkwane::change
