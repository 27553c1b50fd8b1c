// A screen's frequencies, and where else in the spectrum it stands.
#pragma once

#include <array>
#include <vector>

#include <Eigen/Core>

namespace inkwane::change {

/// The two fundamental frequencies of a screen, all but square to each other, in cycles a pixel.
struct Lattice {
  std::array<Eigen::Vector2d, 2> k{Eigen::Vector2d::Zero(), Eigen::Vector2d::Zero()};
  /// Geometric mean of the two.
  [[nodiscard]] double frequency() const;
  [[nodiscard]] double angle_degrees() const;  ///< of the rows of dots, 0–90
};

using Peak = Eigen::Vector2d;  // cycles a pixel

/// The frequency as sampled: −½ … ½ along either axis.
[[nodiscard]] Peak wrapped(const Peak& k);
/// A quarter turn.
[[nodiscard]] Peak turned(const Peak& k);
/// True if one of the peaks lies nearer to k than `apart`.
[[nodiscard]] bool near(const std::vector<Peak>& peaks, const Peak& k, double apart);

/// Where the lattices' harmonics fall, as sampled; those so fine that nothing of them passes a
/// pixel are left out.
[[nodiscard]] std::vector<Peak> harmonics(const std::vector<Lattice>& lattices);
/// Where harmonics of the first two mix.
[[nodiscard]] std::vector<Peak> mixtures(const std::vector<Lattice>& lattices);
/// Adds where the peaks come back about half a cycle a pixel, in either direction and in both.
void add_images(std::vector<Peak>& peaks);
/// Blocks of a JPEG: a multiple of ⅛ cycle a pixel along the pixels' own axes.
[[nodiscard]] bool of_blocks(const Peak& k);

}  // namespace inkwane::change
