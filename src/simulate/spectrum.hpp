// Spectra, and the colour they have for the CIE 1931 2° observer under D50.
#pragma once

#include <array>
#include <cstddef>

namespace inkwane::simulate {

/// 400 to 700 nm in steps of 10 nm.
inline constexpr int kBands = 31;
inline constexpr double kFirstNm = 400, kStepNm = 10;
using Spectrum = std::array<double, kBands>;

[[nodiscard]] constexpr double band_nm(int band) {
  return kFirstNm + kStepNm * band;
}

using Xyz = std::array<double, 3>;  ///< D50, 2°, Y = 1 for the perfect diffuser
using Lab = std::array<double, 3>;  ///< CIELAB against the ICC's D50 white, 2°

/// White of the ICC profile connection space, ICC.1:2022 clause 7.2.16.
inline constexpr Xyz kD50{0.9642, 1.0, 0.8249};

/// Weights of each band for X, Y and Z: observer times D50, what lies below 400 and above 700 nm
/// added to the end bands (as ASTM E308 does for spectra cut short), scaled so that a reflectance
/// of 1 everywhere has exactly the colour `kD50`.
[[nodiscard]] const std::array<Spectrum, 3>& observer_weights();

/// X, Y, Z of D50 itself from the published tables, 380 to 780 nm, Y = 1: for checking the tables.
[[nodiscard]] Xyz tabulated_white();

[[nodiscard]] Xyz spectrum_to_xyz(const Spectrum& reflectance);

/// CIELAB, ISO/CIE 11664-4, and its inverse.
[[nodiscard]] Lab xyz_to_lab(const Xyz& xyz);
[[nodiscard]] Xyz lab_to_xyz(const Lab& lab);

/// CIEDE2000 with kL = kC = kH = 1, ISO/CIE 11664-6, after Sharma, Wu, Dalal, Color Res. Appl.
/// 30(1), 2005, equations 2–22.
[[nodiscard]] double ciede2000(const Lab& one, const Lab& two);

}  // namespace inkwane::simulate
