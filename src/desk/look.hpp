// What the program finds in the scans of a treatment before anything is measured: the target, the
// sheet, how the stages lie on each other; and the colours under any place.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

#include <inkwane/colour.hpp>
#include <inkwane/results.hpp>

#include "grid/grid.hpp"
#include "target/fit.hpp"

namespace inkwane::desk {

/// How a later scan lies on the first stage's.
struct Laid {
  /// CV_32FC2: the later scan's pixel for every kNode-th cell of the first stage's grid.
  cv::Mat to_later;
  static constexpr int kNode = 8;
  double residual_mm_median = 0, residual_mm_p95 = 0;
  bool doubtful = false;
};

/// What was found in one scan.
struct ScanLook {
  std::string stage;
  Side side = Side::recto;
  std::filesystem::path file;
  std::optional<Corners> target;   ///< none: no target was asked for, or it was not found
  std::optional<Corners> outline;  ///< of the sheet, in pixels
  double left_out_dE00_median = 0;
  double width_mm = 0, height_mm = 0;
  std::optional<Laid> laid;  ///< later stages
  std::vector<std::string> warnings;
  std::optional<std::string> error;  ///< why there is nothing
  grid::Geometry geometry;
  target::Fit fit;
  cv::Mat light;    ///< CV_16FC3: as grid::Grid::light, at half the memory
  cv::Mat clipped;  ///< CV_8UC1
};

struct Looked {
  bool calibrated = false;
  std::vector<ScanLook> scans;

  [[nodiscard]] const ScanLook* find(const std::string& stage, Side side) const;
  /// The first stage's scan of a side.
  [[nodiscard]] const ScanLook* first(Side side) const;
};

/// What one scan can't tell is its `error`; the others are looked at all the same.
[[nodiscard]] Looked look(const Treatment& treatment, int threads,
                          const std::function<void(const std::string& what, double done)>& tell);

/// A colour averaged over the aperture, with the standard uncertainty (k = 1) of each component
/// that the target's fit leaves (docs/method.md, "Target fit"); none without a target.
struct Colour {
  LabD50 lab;
  std::optional<LabD50> u_lab;
};

/// At a pixel of that scan; none off the scan or where it is clipped.
[[nodiscard]] std::optional<Colour> colour_at(const ScanLook& scan, Point px);

/// Lab D50 (CV_32FC3) of cells; `window` within the grid.
[[nodiscard]] cv::Mat lab_of(const ScanLook& scan, const cv::Rect& window);

}  // namespace inkwane::desk
