// Calcium hydroxide in water: how much dissolves, and the pH of what has dissolved.
//
// Concentrations are g/L of Ca(OH)2, temperatures °C. The pH is that of a fresh solution free of
// carbon dioxide; air and acidic paper lower it.
#pragma once

namespace inkwane::bath {

/// g/mol, from the IUPAC standard atomic weights (from memory): Ca 40.078, O 15.999, H 1.008.
inline constexpr double kMolarMassLime = 74.093;
inline constexpr double kMolarMassCalcium = 40.078;
/// Share of calcium by mass, 0.5409.
inline constexpr double kCalciumShare = kMolarMassCalcium / kMolarMassLime;

/// Temperatures that the series of solubilities covers.
inline constexpr double kLeastCelsius = 0, kMostCelsius = 40;

/// Saturation at `t` °C in g/L; it falls on warming. Handbook series (from memory, as in general
/// handbooks of chemistry): 0.189, 0.182, 0.173, 0.160, 0.141 g in 100 g of water at 0, 10, 20, 30,
/// 40 °C, taken straight between them.
[[nodiscard]] double lime_saturation(double t);
/// Share by which sources differ about saturation: at 25 °C the series above gives 1.66 g/L, NBS
/// (1956, doi 10.6028/jres.056.040) about 0.0203 mol/L, which is 1.504 g/L.
inline constexpr double kSaturationShare = 0.10;

/// Which effects a calculated pH heeds; the poorer ones serve to check the full one step by step.
enum class PhModel {
  ideal,    ///< complete dissociation, no activity
  davies,   ///< with activity coefficients
  complete  ///< with activity coefficients and the ion pair CaOH⁺
};

/// pH at `g_per_l` (above 0) and `t` °C. Davies: log γ = −A z² (√I/(1+√I) − 0.3 I), I in mol/L (C.
/// W. Davies 1962, from memory). Ca²⁺ + OH⁻ ⇌ CaOH⁺: log K 1.300 at 25 °C and ΔH 8.30 kJ/mol, the
/// difference of two entries of the thermodynamic data file minteq.v4.dat of the US Geological
/// Survey (CaOH⁺ −12.697, 64.11 kJ; H2O −13.997, 55.81 kJ).
[[nodiscard]] double lime_ph(double g_per_l, double t, PhModel model = PhModel::complete);
/// Half range of the model itself: it stays within 0.02 of NBS's standard values from 0 to 40 °C
/// (tests/published/bath_test.cpp), and log K 1.22 (wateq4f.dat, same survey) moves it by 0.01.
inline constexpr double kPhModelHalf = 0.03;
/// Below this the carbon dioxide of the air decides, and no published value checks the model.
inline constexpr double kLeastCalculated = 0.05;

}  // namespace inkwane::bath
