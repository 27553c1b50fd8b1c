// What blotters lifted, and whose colour it is.
#pragma once

#include "finding/sheet_view.hpp"

namespace inkwane::finding {

/// A blotter's scan, calibrated and averaged.
struct BlotterView {
  const BlotterScan* record = nullptr;
  std::string file, sha256;
  grid::Geometry geometry;
  cv::Mat light, xyz;  ///< CV_32FC3
  cv::Mat usable;      ///< CV_8UC1: the blotter, neither clipped nor target
  const target::Fit* fit = nullptr;
  std::vector<std::string> warnings;
};

/// Amount and colour of what a blotter lifted (K/S above its own blank part), and its shares: by
/// non-negative least squares on the absorption of the named regions' colours at their first stage,
/// or, where no ink is named, of the inks found on the sheet; intervals by Monte Carlo (JCGM 101)
/// over calibration, the blank's unevenness, and how a dye's absorption differs from paper to
/// paper. Throws Error(usage) where a polygon leaves the scan or the blotter.
[[nodiscard]] results::Blotter measure_blotter(const BlotterView& blotter,
                                               const std::vector<SheetView>& sides,
                                               const std::vector<results::SheetInk>& inks,
                                               const std::filesystem::path& treatment_file);

}  // namespace inkwane::finding
