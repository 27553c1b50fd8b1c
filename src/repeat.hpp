// Several scans of one side at one stage → one; and how well scans repeat.
#pragma once

#include <optional>

#include "change/change.hpp"
#include "take.hpp"

namespace inkwane {

/// What scans of the same thing differ by, gathered from pairs; in signed CIEDE2000 vectors
/// (target::ciede2000_metric), one component along L*, two across.
class Spread {
 public:
  /// Two scans of one sheet on one grid (XYZ D50, CV_32FC3) where `valid`: a part common to the
  /// whole scan and a part from place to place.
  void add(const cv::Mat& first, const cv::Mat& later, const cv::Mat& valid, double pitch_mm);
  /// One place at two stages between which nothing was done to it.
  void add(const LabD50& first, const LabD50& later);

  /// Standard uncertainty of one scan's own error, ΔE00 a component, and its degrees of freedom.
  /// Few scans tell it badly, so it is that of Student's t of as many degrees (JCGM 101, 6.4.9).
  /// None where nothing was added.
  [[nodiscard]] std::optional<results::Repeatability> result(const std::string& from) const;

 private:
  double common_ = 0, local_ = 0;  // sums of squares, and
  int freedom_ = 0, pairs_ = 0;    // what they are divided by
};

/// Averages the repeats of each side and stage into the first of them: aligned to it, on its grid,
/// in linear light. They are moved into its `repeats`, without their grids. Their spread goes into
/// `spread`.
void merge_repeats(std::vector<Taken>& scans, Spread& spread);

/// The spread of the scans of [measure] repeat, if there are any.
[[nodiscard]] std::optional<results::Repeatability> compare_repeats(std::vector<Taken>& sheet);

/// Adds the untouched regions of one side.
void add_untouched(const change::SideInput& side, Spread& spread);

/// Every scan's own error, from what was measured: that of an average is smaller.
void apply_repeatability(const results::Repeatability& repeatability, std::vector<Taken>& scans);

/// Says at untouched regions that moved all the same what that means.
void warn_of_untouched(std::vector<results::Region>& regions);

}  // namespace inkwane
