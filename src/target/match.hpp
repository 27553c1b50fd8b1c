// Which way round the reference lies on a lattice, and which of its patches are there.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <opencv2/core.hpp>

#include "target/lattice.hpp"
#include "target/reference.hpp"

namespace inkwane::target {

/// One of eight ways to lay rows and columns on a lattice: quarter turns, and those of a mirror
/// image.
struct Placement {
  int quarter_turns = 0;
  bool mirrored = false;
  cv::Point2i first;  ///< lattice place of the reference's first patch
  [[nodiscard]] cv::Point2i at(int row, int column) const;
  /// Patch coordinates (column, row) → lattice coordinates, as a homography.
  [[nodiscard]] cv::Matx33d to_lattice() const;
};

enum class PatchState { good, out_of_frame, uneven, off_colour };

struct Match {
  Placement placement;
  cv::Matx33d to_picture;           ///< patch coordinates (column, row) → picture
  std::vector<PatchState> patches;  ///< in the reference's order
  double residual = 0;              ///< rms of the better two thirds, encoded units
  double off_colour_limit = 0;
  [[nodiscard]] int bad() const;
};

/// The closer fit; of two equally close the one with more of its patches, and not mirrored.
[[nodiscard]] bool better(const Match& one, const Match& two);

/// Patches' mean encoded colour where a homography puts them, with the spread inside each.
struct Sampled {
  cv::Vec3d mean;
  double spread = 0;
  bool in_frame = false;
};
[[nodiscard]] Sampled sample(const cv::Mat& picture, const cv::Matx33d& to_picture,
                             const cv::Point2d& at);

/// The best placement on this lattice, mirrored ones included. None if no place has enough patches.
[[nodiscard]] std::optional<Match> match(const cv::Mat& picture, const Lattice& lattice,
                                         const Reference& reference);

/// Judges one given position (patch coordinates → picture) against the reference.
[[nodiscard]] Match judge(const cv::Mat& picture, const cv::Matx33d& to_picture,
                          const Reference& reference);

}  // namespace inkwane::target
