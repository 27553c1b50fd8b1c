// Coarse registration by features. Internal to this room.
#pragma once

#include <optional>
#include <vector>

#include <opencv2/core.hpp>

namespace inkwane::align {

/// Features of a picture, found at a coarse scale.
struct Features {
  std::vector<cv::Point2d> place;  ///< in the picture's own cells
  cv::Mat descriptors;             ///< CV_32FC1, a row a feature
};

/// A feature of the first picture and the same of the second.
struct Match {
  cv::Point2d first, second;
};

/// `structure`: CV_32FC1, `mask`: CV_8UC1. Features lie on the mask, spread over it; independent of
/// the number of threads.
[[nodiscard]] Features find_features(const cv::Mat& structure, const cv::Mat& mask);

/// Pairs that are each other's nearest in description, and clearly nearer than the next one.
[[nodiscard]] std::vector<Match> match_features(const Features& first, const Features& second);

/// An affine map from the first picture's cells to the second's.
struct Affine {
  cv::Matx23d map;
  int inliers = 0;
  double spread = 0;  ///< area of the first picture's inliers' convex hull, in cells²
};

/// The affine map that most matches agree on, to within `tolerance` cells of the second picture;
/// none where fewer than `least` agree.
[[nodiscard]] std::optional<Affine> fit_affine(const std::vector<Match>& matches, double tolerance,
                                               int least);

[[nodiscard]] inline cv::Point2d apply(const cv::Matx23d& map, cv::Point2d p) {
  return {map(0, 0) * p.x + map(0, 1) * p.y + map(0, 2),
          map(1, 0) * p.x + map(1, 1) * p.y + map(1, 2)};
}

/// The linear part of a map.
[[nodiscard]] inline cv::Matx22d linear(const cv::Matx23d& map) {
  return {map(0, 0), map(0, 1), map(1, 0), map(1, 1)};
}

[[nodiscard]] cv::Matx23d inverse(const cv::Matx23d& map);

/// `outer` after `inner`.
[[nodiscard]] cv::Matx23d compose(const cv::Matx23d& outer, const cv::Matx23d& inner);

/// Least-squares affine map through pairs of places; at least three, not on a line.
[[nodiscard]] std::optional<cv::Matx23d> least_squares_affine(const std::vector<Match>& matches);

}  // namespace inkwane::align
