// What all screens and solids of a side say together at its first stage: how far light spreads in
// its paper, and how dark each ink is.
#pragma once

#include "change/screen_share.hpp"

namespace inkwane::change {

/// One screened region at the first stage.
struct FirstLook {
  ScreenStage stage;
  std::vector<double> period_mm;  ///< of each lattice
};

struct LearntSheet {
  LightSpread spread;
  std::vector<ScreenSheet> of_region;  ///< in the order given
};

/// Dots of one ink are about as dark as its solid, and as its other dots, whatever they cover: that
/// holds only for the right spread of light. `solids`: sharpened reflectance against the paper.
[[nodiscard]] LearntSheet learn_sheet(const std::vector<FirstLook>& screens,
                                      const std::vector<Eigen::Vector3d>& solids);

}  // namespace inkwane::change
