// What shows through the paper: the print of one side against the faint marks on the other.
// Internal to this room.
#pragma once

#include <opencv2/core.hpp>

#include "align/stages.hpp"

namespace inkwane::align {

/// A picture with a weight (0–1) for every cell; 0 where the weight is 0. Both CV_32FC1.
struct Weighted {
  cv::Mat value, weight;
};

/// One side of a sheet on a lattice of its own.
struct Face {
  Weighted print;  ///< what may shine through: absorptance of the print, blurred as paper blurs it
  Weighted faint;  ///< what may have come through: darker and lighter than its surroundings, away
                   ///< from the print

  /// Pulled onto a lattice of `size` by `map` (cells of that lattice to cells of this one).
  [[nodiscard]] Face pulled(const cv::Matx23d& map, cv::Size size) const;
  [[nodiscard]] Face part(const cv::Rect& window) const;
};

/// Which marks are looked at (lengths in mm).
struct Sieve {
  double surround_mm;  ///< standard deviation of the surroundings against which a place is light or
                       ///< dark
  double rule_mm;      ///< longer lines along or across the sheet are taken out
};
/// Writing and text; ruled lines, which stand on both sides and match at every line, are taken out.
inline constexpr Sieve kWriting{3, 30};
/// Solids and pictures.
inline constexpr Sieve kSolids{10, 1000};

/// `factor`: cells of the grid a side of one cell of the lattice; cell i is centred on (i + ½)
/// factor − ½.
[[nodiscard]] Face make_face(const View& view, int factor, const Sieve& sieve);

/// How well two faces explain each other at every shift.
struct Correlation {
  cv::Mat z;  ///< CV_32FC1: in robust standard deviations of all shifts; very negative where too
              ///< little overlaps
  cv::Point zero;  ///< the cell of `z` that stands for no shift
};

/// Cell v of `verso` against cell v + s of `recto` (already mirrored), for every shift s: print of
/// each against the faint marks of the other (normalised correlation under masks, after Padfield,
/// IEEE Transactions on Image Processing 21(5), 2012). `least_overlap`: share of the smaller face.
[[nodiscard]] Correlation correlate(const Face& verso, const Face& recto, double least_overlap);

/// The same for print against print: two scans of one side.
[[nodiscard]] Correlation correlate_prints(const Face& one, const Face& two, double least_overlap);

/// The highest place of a correlation, in shifts, and the highest further than `apart` cells from
/// it.
struct Peak {
  cv::Point2d shift;
  double z = 0, runner_up = 0;
};

/// Within `within` (in shifts); an empty rectangle: anywhere.
[[nodiscard]] Peak find_peak(const Correlation& correlation, const cv::Rect& within, double apart);

}  // namespace inkwane::align
