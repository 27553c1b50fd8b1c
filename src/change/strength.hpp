// How much of a colour is still there: ink strength kept, or added colour that remains.
#pragma once

#include <array>
#include <optional>
#include <string>

#include <Eigen/Core>

#include <inkwane/colour.hpp>

namespace inkwane::change {

/// What a share is taken from: the place itself and what lies beside or under it, before and after.
enum Part { place_from, place_to, under_from, under_to };
inline constexpr int kParts = 4;

struct Colours {
  std::array<LabD50, kParts> lab;
  std::array<Eigen::MatrixXd, kParts> errors;  ///< joint draws of the errors of each, draws × 3
};

struct Share {
  double value = 0;
  std::array<double, 2> ci95{0, 0};
  /// Neither Kubelka–Munk nor a Beer–Lambert film could be ruled out, and they differ.
  bool law_open = false;
  double film = 0;  ///< the value if the colour is a film
};

/// A share as one ink law has it.
struct LawEstimate {
  double value = 0;
  std::array<double, 2> ci95{0, 0};
  double disagreement = 0;  ///< χ² of the channels about a common share
};
/// χ² of the channels' shares about their common value.
[[nodiscard]] double channel_disagreement(const Eigen::VectorXd& shares,
                                          const Eigen::MatrixXd& covariance);
/// Under the right law the channels agree. Where they tell, that law alone is taken; else the value
/// is Kubelka–Munk's and the interval spans both.
[[nodiscard]] Share choose_law(const LawEstimate& kubelka_munk, const LawEstimate& film);

/// Σ absorption after / Σ absorption before, over the channels of sharpened RGB; absorption is that
/// of the place less that of what lies under it. As K/S (Kubelka–Munk, colour mixed into the
/// paper), or as density (Beer–Lambert, a clear film on it), as choose_law() says. None where the
/// absorption before is less than four times its own uncertainty.
[[nodiscard]] std::optional<Share> share_kept(const Colours& colours);

/// Lower end of strength kept if the place is a screen of dark dots, whose fading the average
/// hides: K/S of dots of which the average is made by a coverage that does not change. None where
/// the place is so dark in the channel in which it absorbs most that it must be a solid.
[[nodiscard]] std::optional<double> share_kept_if_screened(const Colours& colours);

}  // namespace inkwane::change
