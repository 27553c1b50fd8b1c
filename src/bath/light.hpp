// An exposure to light of one narrow band: dose, photons, hazard to the eye, and the time that
// repeats an earlier dose.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bath/estimate.hpp"

namespace inkwane::bath {

/// A dose that an earlier step gave.
struct EarlierDose {
  double j_per_cm2 = 0;
  double percent = 0;  ///< half range
};

struct LightInput {
  double w_per_m2 = 0;                  ///< irradiance at the sheet
  std::optional<double> meter_percent;  ///< half range of the irradiance
  double peak_nm = 0;
  std::optional<double> width_nm;     ///< full width at half maximum; none: taken as one line
  std::optional<double> seconds;      ///< none: per second only
  std::optional<EarlierDose> reach;   ///< how long until this dose is reached
  std::optional<double> reflectance;  ///< of the sheet, 0 to 1, for the hazard; none: 0.8
  std::optional<double> emitter_w_per_m2_sr;  ///< radiance of a bare emitter, from its data sheet
  std::optional<bool> wet;                    ///< whether the sheet is wet while lit
};

/// Blue-light hazard of something looked at, IEC 62471:2006, 4.3.3.
struct Hazard {
  Estimate w_per_m2_sr;  ///< blue-weighted radiance L_B
  /// Time within one day that keeps to L_B t ≤ 10⁶ J m⁻² sr⁻¹; none where L_B ≤ 100 W m⁻² sr⁻¹.
  std::optional<Estimate> limit_seconds;
};

struct Light {
  Estimate w_per_m2;
  double peak_nm = 0, width_nm = 0;
  std::optional<double> seconds;
  double ev_per_photon = 0, umol_per_j = 0;
  Estimate lux;                                                        ///< for reference only
  Estimate umol_per_m2_s;                                              ///< photons
  std::optional<Estimate> j_per_cm2, j_per_m2, mol_per_m2, lux_hours;  ///< of the whole exposure
  std::optional<double> reach_j_per_cm2;
  std::optional<Estimate> reach_seconds;
  double reflectance = 0;
  Hazard sheet;                   ///< the lit sheet as a diffuse reflector, ρE/π
  std::optional<Hazard> emitter;  ///< where its radiance was given
  std::vector<std::string> warnings, cautions, sources;
  bool doubtful = false;
};

/// Throws Error(usage) for a value that is not finite, not above 0 or out of range.
[[nodiscard]] Light expose(const LightInput& input);

/// hc/λ in eV and photons a joule in µmol, from the exact constants of the SI (2019).
[[nodiscard]] double photon_ev(double nm);
[[nodiscard]] double photons_umol_per_j(double nm);

}  // namespace inkwane::bath
