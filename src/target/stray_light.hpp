// Stray light on the target: taken off its readings, and told from them where no card tells it.
#pragma once

#include <span>

#include "scanner/paper_fit.hpp"
#include "scanner/stray_light.hpp"
#include "target/fit.hpp"

namespace inkwane::target {

/// Linear light of the whole scan (through the profile), from the picture that the target was found
/// in.
[[nodiscard]] scanner::CoarseLight survey_light(const Located& located,
                                                const colour::Linearisation& linearisation,
                                                double resolution_dpi);

/// Takes stray light off the readings, and says how an error of its estimate shows in them.
void correct(TargetReadings& readings, const scanner::Correction& correction,
             const Located& located);

/// One scan's target, what surrounds it, and what the bare paper beside it says.
struct TargetView {
  const TargetReadings* readings;
  const Located* located;
  const scanner::CoarseLight* seen;
  const scanner::PaperEvidence* paper;
};

/// Stray light where no card was measured.
struct StrayLightTold {
  /// Where it is not significant κ is 0 and its uncertainty at most the typical strength.
  scanner::StrayLightEstimate estimate;
  bool significant = false;
};

/// What scans of one scanner tell of it: bare paper dims beside dark print and backing, and patches
/// beside light ones read too light. At least one scan.
[[nodiscard]] StrayLightTold tell_stray_light(const Reference& reference,
                                              std::span<const TargetView> scans);

}  // namespace inkwane::target
