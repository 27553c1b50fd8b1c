// What differs between two stages although the sheet does not: noise, drift from place to place,
// and stray light from neighbours that changed. Taken from the sheet's own unchanged part.
#pragma once

#include "change/paper.hpp"

namespace inkwane::change {

/// Noise of the difference of two stages, in one cell, by sharpened reflectance r:
/// standard deviation √(floor² + (slope r)²).
struct CellNoise {
  float floor = 0, slope = 0;
  [[nodiscard]] float variance(float r) const { return floor * floor + slope * slope * r * r; }
};

/// How one stage differs from another where nothing was done.
struct Drift {
  CellNoise noise;
  /// Relative covariance of sharpened RGB from place to place (tiles of some millimetres of bare
  /// paper, beyond the change of the sheet as a whole).
  Eigen::Matrix3d place = Eigen::Matrix3d::Zero();
};

[[nodiscard]] Drift measure_drift(const SideInput& side, const PaperSurvey& paper, int from,
                                  int to);

/// Relative change of XYZ that stray light of the typical strength would make, stage `to` against
/// `from`, where the neighbourhood changed: m = t (1 + κ (t ⊗ h)) / (1 + κ r₀), h ∝ exp(−r / ℓ).
class StrayLight {
 public:
  StrayLight(const SideInput& side, int from, int to);
  /// At a place of the grid, in cells.
  [[nodiscard]] Eigen::Vector3d at(cv::Point2d cell) const;

 private:
  int block_ = 1;   // cells a block
  cv::Mat change_;  // CV_32FC3, a block
};

}  // namespace inkwane::change
