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
  int repeat = 0;  ///< 1, 2, … where the side was scanned several times at this stage; 0: once
  std::optional<scan::Scan> scan;  ///< to read windows of it again
  scan::Info info;
  double resolution_dpi = 0;   ///< in force: the file's, or from the sheet's size, or assumed
  std::string profile;         ///< description
  std::string profile_sha256;  ///< of the embedded profile; empty: none
  std::optional<results::Target> target;
  target::Fit fit;
  std::optional<target::PointSpread> point_spread;  ///< none without a target, or of a poor one
  grid::Grid grid;
  align::Outline outline;
  std::vector<std::string> warnings;
  std::vector<std::string> doubts;                    ///< what makes this scan's numbers doubtful
  std::optional<results::Registration> registration;  ///< of a repeat, on the first of its stage
  std::vector<Taken> repeats;  ///< further scans that were averaged into this one, without grids

  [[nodiscard]] std::string file() const { return info.file.string(); }
};

struct TakenScans {
  std::vector<Taken> scans;         ///< stage by stage, recto before verso, repeats in their order
  std::vector<Taken> repeat_sheet;  ///< of [measure] repeat; their stage is none of the treatment's
  results::StrayLight stray_light;  ///< taken off all of them
  std::vector<std::string> warnings;
};

/// All scans of the treatment. Works on `threads` (≥ 1) scans at a time; the outcome does not
/// depend on it. Throws the Error of the first scan in that order that has one, or of
/// the scanner's file.
[[nodiscard]] TakenScans take_scans(const Treatment& treatment, int threads,
                                    const std::function<void(double done)>& progress);

}  // namespace inkwane
