// Stray light from what a scan shows of the card: chips of a kind differ only by what surrounds
// them.
#pragma once

#include "scanner/card_read.hpp"
#include "scanner/scanner.hpp"

namespace inkwane::scanner {

struct StrayLightFit {
  StrayLightEstimate estimate;
  /// Light that is added whatever the place, as a share of the mean light within centimetres: what
  /// the model of stray light does not hold, and is not corrected.
  double veil = 0, u_veil = 0;
  double chips_rms = 0;  ///< how far chips of a kind still differ, relative
};

/// Throws Error(scan), naming `file`, where chips of a kind differ by more than their surround can
/// do, or stray light is beyond what the model is for.
[[nodiscard]] StrayLightFit fit_stray_light(const CardReadings& readings, const CardPlace& place,
                                            const std::string& file);

}  // namespace inkwane::scanner
