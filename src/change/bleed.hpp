// Colour that came through from the other side.
#pragma once

#include "change/cell_maps.hpp"
#include "change/show_through.hpp"

namespace inkwane::change {

struct BleedMap {
  cv::Mat value;  ///< CV_32FC1, docs/formats.md "bleed-through"
  results::BleedThrough found;
};

/// `behind` null: the sides are not paired, and every local gain of absorption counts.
[[nodiscard]] BleedMap map_bleed(const SideContext& context, const Drift& drift,
                                 const Behind* behind, int from, int to, double sheet_mm2);

}  // namespace inkwane::change
