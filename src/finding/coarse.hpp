// A side in blocks of some 0.2 mm: fine enough for what a person could point at, and light on
// memory.
#pragma once

#include "change/colour_space.hpp"
#include "finding/sheet_view.hpp"

namespace inkwane::finding {

/// Cells a side of a block.
[[nodiscard]] int block_of(const SheetView& view);
/// Area of a block, mm².
[[nodiscard]] double block_mm2(const SheetView& view);

/// Mean sharpened RGB of each block at a stage (CV_32FC3), NaN where less than half of it was
/// measured.
[[nodiscard]] cv::Mat block_sharp(const SheetView& view, int stage);
/// The same of the paper beside each block.
[[nodiscard]] cv::Mat block_paper(const SheetView& view, int stage);
/// Of the sheet's paper as a whole: beside a wide light tint the tint itself would pass for paper,
/// and seem to come and go between stages.
[[nodiscard]] cv::Vec3f sheet_paper(const SheetView& view, int stage);
[[nodiscard]] LabD50 lab_of_sharp(const cv::Vec3f& sharp);
/// Lab (CV_32FC3) of sharpened RGB.
[[nodiscard]] cv::Mat block_lab(const cv::Mat& sharp);

/// CV_8UC1: blocks any cell of which lies in a region, of added colour or of any other; added
/// colour reaches further than its polygon.
struct NamedBlocks {
  cv::Mat added, other;
};
[[nodiscard]] NamedBlocks named_blocks(const SheetView& view);

/// K/S, or optical density, of one channel: how much light an ink takes, by either law of inks.
enum class Law { kubelka_munk, film };
[[nodiscard]] inline float absorbed(Law law, float r) {
  return law == Law::kubelka_munk ? change::ks(r)
                                  : -std::log10(std::max(r, change::kLeastReflectanceF));
}
/// Above the paper, a channel.
[[nodiscard]] inline cv::Vec3f absorbed_above(Law law, const cv::Vec3f& sharp,
                                              const cv::Vec3f& paper) {
  cv::Vec3f a;
  for (int c = 0; c < 3; ++c) a[c] = absorbed(law, sharp[c]) - absorbed(law, paper[c]);
  return a;
}

}  // namespace inkwane::finding
