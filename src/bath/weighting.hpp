// How the eye weighs light: luminous efficiency and blue-light hazard, and their means over a
// lamp's band.
#pragma once

#include <functional>

namespace inkwane::bath {

/// Wavelengths a lamp's peak may have, nm.
inline constexpr double kLeastPeakNm = 380, kMostPeakNm = 780;

/// V(λ) of photopic vision at `nm`, 380 to 780, 0 beyond. CIE 018:2019, Table 1 (the CIE 1924
/// function), every 5 nm from memory; to four decimals as in public-domain tables of the CIE 1931
/// observer (y-bar).
[[nodiscard]] double luminous_efficiency(double nm);

/// B(λ) of the blue-light hazard at `nm`, 300 to 700, 0 beyond. IEC 62471:2006, Table 4.2, which
/// ICNIRP 2013 (Health Phys. 105(1), Table 2) repeats; as it stands in public source code that
/// cites both.
[[nodiscard]] double blue_light_hazard(double nm);

/// Mean of `weight` over the power of a lamp of that peak and full width at half maximum, taken as
/// Gaussian; width 0: at the peak alone.
[[nodiscard]] double band_mean(const std::function<double(double)>& weight, double peak_nm,
                               double width_nm);

}  // namespace inkwane::bath
