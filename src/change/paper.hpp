// The sheet's own bare paper: where it is, and its tone at each stage, place by place.
#pragma once

#include <Eigen/Core>

#include "change/change.hpp"

namespace inkwane::change {

/// A mean colour, in the two forms that colour and its uncertainty need.
struct Colour {
  Eigen::Vector3d xyz = Eigen::Vector3d::Zero();    ///< XYZ D50
  Eigen::Vector3d light = Eigen::Vector3d::Zero();  ///< the scan's averaged light
};

/// Tone of the paper at one stage.
struct PaperTone {
  Colour sheet;   ///< of the sheet as a whole: the mode, so that stains do not count
  cv::Mat xyz;    ///< CV_32FC3, one value a tile: the lightest common tone there, gaps filled
  cv::Mat light;  ///< CV_32FC3, likewise
};

struct PaperSurvey {
  cv::Mat unprinted;  ///< CV_8UC1 on the grid: 255 where the first stage shows bare paper
  int tile = 1;       ///< side of a tile, in cells
  std::vector<PaperTone> stages;
  /// Relative standard deviation of sharpened RGB between neighbouring tiles at the first stage.
  Eigen::Vector3d unevenness = Eigen::Vector3d::Zero();
  bool found = false;  ///< false: too little of the sheet was measured; the rest is empty then

  /// Paper beside a place of the grid (cells, may be fractional).
  [[nodiscard]] Colour at(int stage, cv::Point2d cell) const;
  /// A row of the paper's XYZ, as CV_32FC3 of `columns` × 1.
  void xyz_row(int stage, int row, int columns, float* xyz) const;
};

[[nodiscard]] PaperSurvey survey_paper(const SideInput& side);

/// Mode of a set of values: the half-sample mode (Robertson & Cryer, JASA 69, 1974), then the mean
/// of the values that lie about it. The values are sorted. NaN for none.
[[nodiscard]] double mode_of(std::vector<float>& values);

}  // namespace inkwane::change
