// Printed sheets made in the test, and scans of them on a measuring grid, with the true map between
// two scans. Only what these tests need: no spectra, no target, no scanner model.
#pragma once

#include <cstdint>
#include <vector>

#include <opencv2/core.hpp>

#include "align/stages.hpp"

namespace inkwane::made {

/// A sheet as drawn: how much of each ink lies where, at 0.05 mm.
struct Sheet {
  static constexpr double kPitchMm = 0.05;
  double width_mm = 60, height_mm = 80;
  std::vector<cv::Mat> inks;  ///< CV_32FC1, 0–1: black, red, blue, yellow
  cv::Mat fibres;             ///< CV_32FC1, about 1
};

/// A frame line, a title, a text block, shapes, hatching and a screen. `layout` decides what all
/// sheets of a series share (frame, title), `picture` what is their own.
[[nodiscard]] Sheet draw_sheet(double width_mm, double height_mm, std::uint64_t layout,
                               std::uint64_t picture);

/// Fibres and a few specks, no print.
[[nodiscard]] Sheet bare_sheet(double width_mm, double height_mm, std::uint64_t seed);

/// State of the colours: share kept of each ink, and the paper's linear RGB.
struct State {
  std::vector<double> kept{1, 1, 1, 1};
  cv::Vec3d paper{0.80, 0.76, 0.66};
};

/// How the sheet lies on the bed and how it was deformed.
struct Lay {
  double pitch_mm = 0.1;        ///< of the scan's grid
  double frame_mm[2] = {0, 0};  ///< size of the bed; 0: the sheet and 8 mm around
  double shift_mm[2] = {8, 8};  ///< the sheet's top left corner
  double tilt_degrees = 0;
  double stretch_x = 1, stretch_y = 1;
  double cockle_mm = 0;  ///< largest displacement
  double noise = 0.002;  ///< of linear light
  cv::Vec3d backing{0.01, 0.01, 0.01};
  double shadow_mm = 0;  ///< width of a darker band right of and below the sheet
  double torn_mm = 0;    ///< legs of the triangle that the sheet's top left corner lacks
  std::uint64_t seed = 1;

  /// From the bed (mm) to the sheet as drawn (mm), and back.
  [[nodiscard]] cv::Point2d to_sheet(cv::Point2d bed) const;
  [[nodiscard]] cv::Point2d to_bed(cv::Point2d sheet) const;
  [[nodiscard]] cv::Point2d cockle(cv::Point2d bed) const;
};

/// What stands on the other side of the paper and shines through.
struct Behind {
  const Sheet* sheet = nullptr;  ///< as seen from its own side
  Turn turn = Turn::side;        ///< how one gets from one side to the other
  double share = 0.04;           ///< of its absorption that is seen
};

[[nodiscard]] grid::Grid scan_sheet(const Sheet& sheet, const State& state, const Lay& lay,
                                    const Behind& behind = {});

/// The whole sheet as it truly lies, without any finding of outlines.
[[nodiscard]] align::Outline true_outline(const Sheet& sheet, const Lay& lay,
                                          const grid::Grid& grid);

/// The scan, mirrored left to right.
[[nodiscard]] grid::Grid mirrored(const grid::Grid& grid);

/// A part of a scan, as if only that had been scanned.
[[nodiscard]] grid::Grid cut(const grid::Grid& grid, const cv::Rect& window);

/// Distance (mm, at the first scan) of a warp from the truth, over the cells of the sheet's outline
/// eroded by 1 mm.
[[nodiscard]] std::vector<double> errors_mm(const align::Warp& warp, const Sheet& sheet,
                                            const Lay& first, const Lay& later);

/// A grid around light given as linear RGB (CV_32FC3) of `pitch_mm`.
[[nodiscard]] grid::Grid grid_of(const cv::Mat& light, double pitch_mm);

}  // namespace inkwane::made
