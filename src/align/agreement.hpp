// How well two pictures that lie on each other agree: is it the same object, and how far off are
// places that took no part in the fit? Internal to this room.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "align/dense.hpp"

namespace inkwane::align {

/// Agreement of two pictures, block by block.
struct Agreement {
  int structured = 0;  ///< blocks in which both pictures have structure
  int agreeing = 0;    ///< of those, blocks whose structure is the same
  int lone = 0;        ///< blocks in which only one of them has

  [[nodiscard]] double share() const {
    return structured == 0 ? 0.0 : static_cast<double>(agreeing) / structured;
  }
};

/// What two agreements say: of bold structure (print) and of faint structure (fibres,
/// show-through).
enum class Verdict { same, different, untold };
[[nodiscard]] Verdict judge(const Agreement& print, const Agreement& faint);

/// `second` must already lie on `first`. Blocks of `block` cells.
[[nodiscard]] Agreement compare(const Signal& first, const Signal& second, int block);

/// Places on the first picture with structure in every direction, spread over the sheet and at most
/// a small share of it; `radius` in cells of the picture.
[[nodiscard]] std::vector<cv::Point> choose_held_out(const Signal& first, int radius);

/// How far off the second picture lies at each of the places (radius as above): the shift, in
/// cells, that correlates best; places where nothing correlates are left out.
[[nodiscard]] std::vector<double> held_out_shifts(const Signal& first, const Signal& second,
                                                  const std::vector<cv::Point>& places, int radius);

/// The q-quantile of values, 0 ≤ q ≤ 1; values must not be empty.
[[nodiscard]] double quantile(std::vector<double> values, double q);

}  // namespace inkwane::align
