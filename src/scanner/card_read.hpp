// What the scanner saw of its card.
#pragma once

#include <array>
#include <vector>

#include "colour/icc.hpp"
#include "scanner/card_find.hpp"
#include "scanner/card_layout.hpp"
#include "scanner/stray_light.hpp"

namespace inkwane::scanner {

/// A part of the scan at full resolution, in linear light.
struct Part {
  cv::Rect px;
  cv::Mat light;  ///< CV_32FC3
};

struct ChipReading {
  card::Chip chip;
  cv::Point2d px;         ///< its centre in the scan
  Eigen::Vector3d light;  ///< mean of its middle
  Part middle;
};

struct CardReadings {
  CoarseLight light;               ///< the whole scan
  std::vector<ChipReading> chips;  ///< in the order of card::chips()
  std::array<Part, 4> fields;      ///< a plain part of each field, between its rows of chips
  std::array<Part, 3> squares;     ///< each with the paper about it
};

/// Streams the scan once. Throws Error(scan), naming the file, where chips are clipped, uneven, or
/// not in the order of their darkness.
[[nodiscard]] CardReadings read_card(const scan::Scan& scan,
                                     const colour::Linearisation& linearisation,
                                     const CardPlace& place);

}  // namespace inkwane::scanner
