// Models of one scan's target, from simple to rich, each judged by leaving patches out.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "target/least_squares.hpp"

namespace inkwane::target {

/// Fewest patches for each rung: below, what it adds is more than the patches can hold.
inline constexpr std::array<int, kRungs> kFewestPatches{6, 8, 15, 20};

[[nodiscard]] int count(const std::vector<bool>& used);

/// One rung fitted to the used patches, and to them without each one.
struct Candidate {
  Rung rung = Rung::linear;
  double start_gamma = 1;
  Parameters parameters = Parameters::Zero();
  double cost = 0;
  std::vector<double> cost_without;   ///< by patch; 0 for patches that are not used
  std::vector<double> left_out_dE00;  ///< by patch, also of those not used
  double left_out_rms = 0;            ///< ΔE00 over the used patches
  double misfit_scale = 0;            ///< s: √(mean left-out Mahalanobis² / 3)
};

/// None for rungs that the patches cannot hold, or whose tone would turn round.
using Ladder = std::array<std::optional<Candidate>, kRungs>;

/// `starts`: values of γ to start from; the best fit counts.
[[nodiscard]] Ladder climb(const PatchData& patches, const std::vector<bool>& used,
                           const std::vector<double>& starts);
/// The rung that leaves least; none on an empty ladder.
[[nodiscard]] std::optional<Candidate> best_of(const Ladder& ladder);

/// The patch that the others contradict, if there is one (docs/method.md, "Target fit").
[[nodiscard]] std::optional<int> soiled_patch(const Candidate& candidate,
                                              const std::vector<bool>& used);

}  // namespace inkwane::target
