// Mean colours of regions and of the paper beside them, at every stage, with their joint
// uncertainty.
#pragma once

#include <optional>

#include "change/drift.hpp"
#include "change/region_weights.hpp"

namespace inkwane::change {

/// What every region of a side shares.
struct SideContext {
  const SideInput* side = nullptr;
  PaperSurvey paper;
  std::vector<Drift> drift;            ///< of each stage against the first; the first's own is zero
  std::vector<RegionWeights> weights;  ///< of each region; empty weight: not measured
  std::vector<std::vector<bool>> usable;  ///< [region][stage]: at least half of it was measured
};

[[nodiscard]] SideContext make_context(const SideInput& side);

/// Index of the region `id` on this side, or −1.
[[nodiscard]] int find_region(const SideInput& side, const std::string& id);

/// One colour at one stage.
struct Spot {
  Colour colour;
  LabD50 lab;
};

/// A region, and what lies beside or under it.
struct RegionColours {
  enum Kind { place, paper, under };
  static constexpr int kKinds = 3;
  /// [kind][stage]; none where not measured. `under` only for added colour over an ink.
  std::array<std::vector<std::optional<Spot>>, kKinds> spots;
  /// Joint covariance of the Lab of all spots there are, three rows a spot, systematic parts
  /// included.
  Eigen::MatrixXd covariance;
  std::array<std::vector<int>, kKinds> row;  ///< first row of a spot in `covariance`; −1: none
};

[[nodiscard]] RegionColours measure_region(const SideContext& context, int region);

}  // namespace inkwane::change
