// What the target in a scan tells about how it was made.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "target/fit.hpp"
#include "target/point_spread.hpp"
#include "vet/finding.hpp"

namespace inkwane::vet {

/// A patch of the reference counts as grey below this C*ab.
inline constexpr double kNeutral = 5;
/// Share of a patch's pixels at an end of the scale above which it counts as clipped.
inline constexpr double kClippedShare = 0.02;

/// The target's neutral patches as the scan shows them.
struct GreyRamp {
  int patches = 0;  ///< neutral ones; fewer than 3 tell nothing
  std::vector<std::string>
      reversed;  ///< ids of patches that read no lighter than the next darker one
  std::vector<std::string> clipped;  ///< ids of patches (any colour) with clipped pixels
};
[[nodiscard]] GreyRamp grey_ramp(const target::Reference& reference,
                                 const std::vector<target::PatchReading>& readings);

/// Everything that one scan's target says: its grey ramp, its fit, its edges (`spread`; none where
/// no edge could be judged).
[[nodiscard]] Findings judge_target(const target::Reference& reference,
                                    const std::vector<target::PatchReading>& readings,
                                    const target::Fit& fit,
                                    const std::optional<target::PointSpread>& spread);

}  // namespace inkwane::vet
