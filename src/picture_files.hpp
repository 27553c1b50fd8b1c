// The pictures of an assessment: sides, regions, maps without words, read-outs, each file with
// where its pixels lie.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include <inkwane/results.hpp>

#include "change/change.hpp"

namespace inkwane {

/// One side's aligned stages, cut to the sheet.
struct SidePictures {
  Side side = Side::recto;
  std::vector<std::string> stages;  ///< ids
  std::vector<std::string> names;   ///< the ids as they stand in file names
  std::vector<cv::Mat> pictures;    ///< CV_8UC3, sRGB, one a stage, on the frame's grid
  cv::Rect frame;                   ///< the part of the side's grid that they show, in cells
  grid::Geometry geometry;          ///< of that part
};

/// Writes images/, one a stage. All throw Error(output).
void write_images(const std::filesystem::path& folder, const SidePictures& side,
                  results::Results& results);

/// Writes crops/: each region of the side as it was first and last, and on the map that tells most
/// of its role. `maps`: of this side, on its whole grid.
void write_crops(const std::filesystem::path& folder, const SidePictures& side,
                 const std::vector<change::MapLayer>& maps, results::Results& results);

/// Writes a map's `plain` and `overlay` and names them in `map`, whose png is written already.
void write_map_pictures(const std::filesystem::path& folder, const SidePictures& side,
                        const change::MapLayer& layer, results::Map& map);

/// Writes readout/.
void write_readout(const std::filesystem::path& folder, const SidePictures& side,
                   const change::Readout& readout, results::Results& results);

}  // namespace inkwane
