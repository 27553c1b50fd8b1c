// A simulated scan of the card that measures a scanner. The card's measures are stated anew here,
// so that an error in either statement shows.
#pragma once

#include <cstdint>
#include <filesystem>

#include "simulate/scene.hpp"

namespace inkwane::simulate {

/// How the card was printed and laid down.
struct CardPrint {
  std::uint64_t seed = 1;
  double turn_deg = 0;  ///< quarter turns and a few degrees of tilt, clockwise
  double shift_x_mm = 0, shift_y_mm = 0;
  double scale = 1;        ///< of the print
  double unlike = 0.005;   ///< standard deviation of chips of a kind, relative
  double texture = 0.004;  ///< of the paper, relative, on 2 mm
  bool mirrored = false;
  bool dark_backing = true;  ///< about the page
  int smudged_chip = -1;     ///< index, fields row by row, chips row by row; −1: none
  double smudge = 0.2;       ///< what the smudge takes
  cv::Size2d page_mm{210, 297}, bed_mm{216, 297};
};

/// Linear R G B of the whole bed, CV_32FC3, after the optics' point spread, before stray light.
[[nodiscard]] cv::Mat card_light(const CardPrint& print, const Scanner& scanner);

/// Writes the scan as a TIFF.
void write_card_scan(const CardPrint& print, const Scanner& scanner,
                     const std::filesystem::path& file);

}  // namespace inkwane::simulate
