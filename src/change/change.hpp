// Two stages of one side → what changed, per region and per cell, with uncertainty.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <inkwane/results.hpp>

#include "change/ink_law.hpp"
#include "change/region_pixels.hpp"
#include "change/share_series.hpp"
#include "grid/grid.hpp"
#include "region/mask.hpp"
#include "target/uncertainty.hpp"

namespace inkwane::change {

/// One stage of one side, on the grid of that side's first stage.
struct Layer {
  std::string stage;
  cv::Mat light;      ///< CV_32FC3, NaN where not measured
  cv::Mat xyz;        ///< CV_32FC3, NaN where not measured
  cv::Mat valid;      ///< CV_8UC1: 255 on the sheet, inside the scan, neither clipped nor target
  cv::Mat misfit_mm;  ///< CV_32FC1: standard uncertainty of position; zero at the first stage
  const target::Fit* fit = nullptr;
  ScanPixels pixels;  ///< for screens; without, they are not told from solids
};

/// All of one side that is known before changes are computed.
struct SideInput {
  Side side = Side::recto;
  grid::Geometry geometry;
  double aperture_mm = 0.5;   ///< full width at half maximum of the averaging window
  cv::Mat sheet;              ///< CV_8UC1: the first stage's sheet, less target
  std::vector<Layer> layers;  ///< in the treatment's order, the first stage first
  std::vector<region::Mask> regions;
};

/// The other side's first layer, and where each cell of this side lies on it.
struct OtherSide {
  const SideInput* input = nullptr;
  cv::Mat to_other;  ///< CV_32FC2, see align::Pairing; empty: not paired
  double pairing_mm = 0;
  SheetEvidence inks;  ///< what its own inks said of their law
};

/// One map, on the side's grid; NaN where nothing was measured.
struct MapLayer {
  std::string kind;  ///< docs/formats.md, "Maps"
  std::string from, to;
  cv::Mat value;  ///< CV_32FC1
  std::string unit;
};

struct SideContext;
/// What a reader can point at: colours and their difference on a coarse grid.
struct Readout {
  std::string from, to;
  grid::Geometry geometry;
  cv::Mat lab_from, lab_to;  ///< CV_32FC3: L*, a*, b*
  cv::Mat difference;        ///< CV_32FC3: CIEDE2000, and the ends of its 95 % interval
};

struct SideOutput {
  std::vector<results::Region> regions;
  std::vector<ShareSeries> series;
  results::SideResult side;
  std::vector<MapLayer> maps;
  std::optional<Readout> readout;  ///< first stage to last
  std::vector<std::string> warnings;
  bool doubtful = false;
  SheetEvidence inks;  ///< what the inks say of their law: of both sides, where the other was given
  /// What was learnt of the side on the way (region_colour.hpp); refers to the SideInput.
  std::shared_ptr<const SideContext> context;
};

/// Pairs of stages to compare, by index: first → each later, and each → the next, each pair once.
[[nodiscard]] std::vector<std::pair<int, int>> stage_pairs(int stages);

/// Everything of one side. `other` serves the bleed-through map of the verso; may be null.
[[nodiscard]] SideOutput assess_side(const SideInput& side, const OtherSide* other);

}  // namespace inkwane::change
