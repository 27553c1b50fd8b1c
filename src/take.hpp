// Scans of a treatment taken in: opened, calibrated on their target, averaged onto their grid.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <inkwane/results.hpp>
#include <inkwane/treatment.hpp>

#include "align/outline.hpp"
#include "grid/grid.hpp"
#include "scan/scan.hpp"
#include "target/fit.hpp"
#include "target/point_spread.hpp"

namespace inkwane {

/// One scan, ready to be aligned.
struct Taken {
  const Stage* stage = nullptr;
  Side side = Side::recto;
  std::optional<scan::Scan> scan;  ///< to read windows of it again
  scan::Info info;
  double resolution_dpi = 0;  ///< in force: the file's, or from the sheet's size, or assumed
  std::string profile;        ///< description
  std::optional<results::Target> target;
  target::Fit fit;
  std::optional<target::PointSpread> point_spread;  ///< none without a target, or of a poor one
  grid::Grid grid;
  align::Outline outline;
  std::vector<std::string> warnings;
  std::vector<std::string> doubts;  ///< what makes this scan's numbers doubtful

  [[nodiscard]] std::string file() const { return info.file.string(); }
};

/// All scans of the treatment, stage by stage, recto before verso. Works on `threads` (≥ 1) scans
/// at a time; the outcome does not depend on it. Throws the Error of the first scan in that order
/// that has one.
[[nodiscard]] std::vector<Taken> take_scans(const Treatment& treatment, int threads,
                                            const std::function<void(double done)>& progress);

}  // namespace inkwane
