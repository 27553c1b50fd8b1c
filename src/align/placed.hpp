// Two stages on one grid: the later one laid on the first by an affine map, at several levels of
// detail, ready for the dense refinement. Internal to this room.
#pragma once

#include <vector>

#include "align/agreement.hpp"
#include "align/dense.hpp"
#include "align/stages.hpp"

namespace inkwane::align {

class Placed {
 public:
  /// `map`: from the first grid's cells to the later one's.
  Placed(const View& first, const View& later, const cv::Matx23d& map);

  [[nodiscard]] const cv::Matx23d& map() const { return map_; }

  /// The coarse passes, from `start`; then whether the two pictures show the same.
  [[nodiscard]] Field coarse(const Field& start) const;
  [[nodiscard]] Verdict verdict(const Field& field) const;

  /// The fine passes, all of them or the last alone. `use`: see refine().
  [[nodiscard]] Field fine(const Field& start, const cv::Mat& use) const;
  [[nodiscard]] Field finish(const Field& start) const;

  /// The field from the later picture back to the first, found on its own.
  [[nodiscard]] Field backward() const;

  /// Places to be held out of the fit, in cells; the blocks that remain, for refine(); and their
  /// shifts under a field, in cells.
  [[nodiscard]] std::vector<cv::Point> held_out() const;
  [[nodiscard]] cv::Mat without(const std::vector<cv::Point>& places) const;
  [[nodiscard]] std::vector<double> shifts(const Field& field,
                                           const std::vector<cv::Point>& places) const;

 private:
  [[nodiscard]] double cells(double mm) const { return mm / pitch_mm_; }

  cv::Matx23d map_;
  double pitch_mm_;
  int held_out_radius_;       ///< in cells
  std::vector<Pair> levels_;  ///< from the grid's own cells to about 0.8 mm
  Pair print_;                ///< as the second level: what is bolder than fibres alone
};

}  // namespace inkwane::align
