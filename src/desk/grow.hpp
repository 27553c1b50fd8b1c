// A region grown from one place over what has its colour.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include <inkwane/treatment.hpp>

namespace inkwane::desk {

/// Seeded region growing (Adams and Bischof, IEEE Transactions on Pattern Analysis and Machine
/// Intelligence 16(6), 1994) on measured colours: from `seed` outwards, always to the neighbouring
/// cell nearest to the mean colour of what was grown, up to `reach` (ΔE*ab, > 0) from it; an edge
/// steeper than `reach` a cell is never crossed. `lab`: CV_32FC3, NaN where nothing was measured.
/// Returns CV_8UC1, 255 inside; all 0 where the seed was not measured.
[[nodiscard]] cv::Mat grow(const cv::Mat& lab, cv::Point seed, double reach);

}  // namespace inkwane::desk
