// The printed colour target: reflectances of its patches and where they lie on their card.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

#include "simulate/spectrum.hpp"

namespace inkwane::simulate {

struct Patch {
  std::string id;  ///< A1 … of row and column
  Spectrum reflectance{};
};

/// Patches row by row. 4 × 6 has colours close to those of the common 24-patch chart; other layouts
/// a ramp of greys in the last row and spread-out colours before it. Each seed prints its own
/// chart.
[[nodiscard]] std::vector<Patch> make_chart(int rows, int columns, std::uint64_t seed);

/// A reflectance of the given colour: of all z with R = (tanh z + 1)/2 and these XYZ the one whose
/// difference from `leaning` is smoothest (after Burns, Color Res. Appl. 45, 2020, "LHTSS": from
/// memory; there without leaning). Throws Error(usage) where no reflectance has this colour.
[[nodiscard]] Spectrum reflectance_of(const Lab& lab, const Spectrum& leaning = {});

/// Measures of the card, mm.
struct ChartLayout {
  int rows = 4, columns = 6;
  double patch_mm = 9, gap_mm = 1.5, border_mm = 5;
  [[nodiscard]] double width_mm() const {
    return 2 * border_mm + columns * patch_mm + (columns - 1) * gap_mm;
  }
  [[nodiscard]] double height_mm() const {
    return 2 * border_mm + rows * patch_mm + (rows - 1) * gap_mm;
  }
  /// Outer corners of the first, last-in-row-1, last and first-in-last-row patch, mm on the card.
  [[nodiscard]] std::vector<cv::Point2d> corners() const;
};

}  // namespace inkwane::simulate
