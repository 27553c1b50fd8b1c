// What the other side of the sheet does to this one: its print seen through the paper, and which of
// its colours lie behind each place.
#pragma once

#include "change/sources.hpp"

namespace inkwane::change {

/// Values a block of a grid, read row by row between the blocks' centres.
void block_row(const Coarse& coarse, int row, int columns, float* values);

/// The other side, brought onto this side's blocks.
struct Behind {
  std::vector<SourceColour> colours;
  std::vector<Coarse>
      presence;  ///< CV_32FC1 of each: Σ K/S behind a place, diffused by what a dye spreads
  /// CV_32FC3 of each stage of this side: share of light that the other side's print takes from
  /// this one through the paper. One value for the whole sheet would do no harm where there is no
  /// leak.
  std::vector<Coarse> dimming;
  /// Sharpened RGB of this side's paper at each stage, where nothing lies behind it.
  std::vector<Eigen::Vector3d> paper;
  bool same_stages = true;  ///< the other side was scanned at every stage of this one
};

/// The optical leak is fitted at the first stage, in unprinted places: 1 − R / R_paper = l (A ⊗ h),
/// A = 1 − R / R_paper of the other side, mirrored (Sharma, IEEE Trans. Image Process. 10(5),
/// 2001), with one width of h and one l a channel.
[[nodiscard]] Behind look_behind(const SideContext& context, const OtherSide& other);

}  // namespace inkwane::change
