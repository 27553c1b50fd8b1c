// A place that may be added colour, before all that speaks for it is put together.
#pragma once

#include <string>

#include "finding/coarse.hpp"

namespace inkwane::finding {

struct Candidate {
  Patch patch;       ///< in blocks
  double score = 0;  ///< 0 to 1
  std::string reason;
  std::string from, to;  ///< empty: from the first stage alone
};

/// What each search starts from: a side's first stage in blocks.
struct FirstStage {
  explicit FirstStage(const SheetView& view)
      : sharp(block_sharp(view, 0)),
        lab(block_lab(sharp)),
        paper(sheet_paper(view, 0)),
        named(named_blocks(view)) {}
  cv::Mat sharp, lab;
  cv::Vec3f paper;
  NamedBlocks named;
};

/// Colours are alike below this distance in Lab.
inline constexpr float kAlikeLab = 6;

/// How much of the print of a side has a patch's colour outside the patch, in blocks, and in how
/// many places of a square centimetre: an ink comes back, a touch rarely.
struct Elsewhere {
  double blocks = 0;
  int places = 0;
};
[[nodiscard]] Elsewhere elsewhere(const SheetView& view, const FirstStage& first,
                                  const Patch& patch, const cv::Vec3f& lab);
/// 1 for a colour that is found here only, towards 0 the more it looks like an ink of the print.
[[nodiscard]] double rarity(const SheetView& view, const Patch& patch, const Elsewhere& other);

/// Mean of a CV_32FC3 picture of blocks over a patch.
[[nodiscard]] cv::Vec3f mean_over(const cv::Mat& picture, const Patch& patch);

}  // namespace inkwane::finding
