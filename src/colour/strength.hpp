// Colour strength and coverage of inks, from linear reflectance.
#pragma once

namespace inkwane::colour {

/// Kubelka–Munk K/S of an opaque layer of reflectance R: (1 − R)² / 2R. R in (0, 1]; from below,
/// R is held at `kLeastReflectance`, where the function would run away.
[[nodiscard]] double ks_from_reflectance(double reflectance);
/// The inverse: R = 1 + q − √(q² + 2q), q = K/S ≥ 0.
[[nodiscard]] double reflectance_from_ks(double ks);

/// Darkest reflectance that K/S is taken of: 0.1 %, below what a printed black reflects.
inline constexpr double kLeastReflectance = 0.001;

/// Channel density −log10 R.
[[nodiscard]] double density(double reflectance);

/// Coverage of a halftone, Yule–Nielsen with factor n (n = 1: Murray–Davies); densities above
/// paper.
[[nodiscard]] double coverage_from_density(double tint, double solid, double n = 1.0);

}  // namespace inkwane::colour
