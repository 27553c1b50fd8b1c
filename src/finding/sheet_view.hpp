// One side of the sheet as the findings look at it, and places on it.
#pragma once

#include <inkwane/findings.hpp>

#include "change/region_colour.hpp"

namespace inkwane::finding {

/// A side after its changes were measured.
struct SheetView {
  const change::SideInput* input = nullptr;
  const change::SideOutput* output = nullptr;  ///< `context` and maps are there
  std::vector<Point> corners;  ///< of the sheet, in cells, from the top left clockwise
  const change::SideInput* behind = nullptr;  ///< the other side, where the two are paired
  cv::Mat to_behind;                          ///< CV_32FC2, as change::OtherSide::to_other

  [[nodiscard]] const change::SideContext& context() const { return *output->context; }
  /// Stages whose scan is usable for maps: none where too little of the side was measured.
  [[nodiscard]] bool measured() const {
    return output->context != nullptr && output->context->paper.found;
  }
  [[nodiscard]] const change::Layer& layer(int stage) const {
    return input->layers[static_cast<std::size_t>(stage)];
  }
  /// mm from the sheet's top left corner, along its upper edge and down, of a place in cells.
  [[nodiscard]] Point to_mm(Point cell) const;
  /// Map of a kind, empty where there is none.
  [[nodiscard]] cv::Mat map(const std::string& kind, const std::string& from,
                            const std::string& to) const;
};

/// Connected places of a mask (CV_8UC1) whose pixel (i, j) covers `block`² cells from
/// `first` + block (i, j) on.
struct Patch {
  cv::Rect bounds;  ///< in the mask
  cv::Mat inside;   ///< CV_8UC1 of that size
  int pixels = 0;
};
[[nodiscard]] std::vector<Patch> patches_of(const cv::Mat& mask, int least_pixels);

/// Where a patch lies: its middle, area, and an outline that does not cross itself, to `block`
/// cells.
[[nodiscard]] results::Place place_of(const SheetView& view, const Patch& patch, cv::Point first,
                                      int block);

}  // namespace inkwane::finding
