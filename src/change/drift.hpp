// What differs between two stages although the sheet does not: noise, and drift from place to
// place. Taken from the sheet's own unchanged part.
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

}  // namespace inkwane::change
