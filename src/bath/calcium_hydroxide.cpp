#include "bath/calcium_hydroxide.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "bath/water.hpp"

namespace inkwane::bath {
namespace {

// g in 100 g of water at 0, 10, 20, 30, 40 °C.
constexpr std::array<double, 5> kSolubility{0.189, 0.182, 0.173, 0.160, 0.141};
constexpr double kSolubilityStep = 10;

constexpr double kPairLogK = 1.300;           // at 25 °C
constexpr double kPairHeat = 8.30e3;          // J/mol
constexpr double kGasConstant = 8.314462618;  // J/(mol K), SI 2019

/// van 't Hoff, the heat of reaction taken as constant.
double pair_constant(double t) {
  const double shift = 1 / (t + 273.15) - 1 / 298.15;
  return std::pow(10, kPairLogK - kPairHeat / (kGasConstant * std::numbers::ln10) * shift);
}

double davies_gamma(double charge, double strength, double t) {
  const double root = std::sqrt(strength);
  return std::pow(10, -debye_hueckel(t) * charge * charge * (root / (1 + root) - 0.3 * strength));
}

}  // namespace

double lime_saturation(double t) {
  const double place = std::clamp(t, kLeastCelsius, kMostCelsius) / kSolubilityStep;
  const auto below = std::min(static_cast<std::size_t>(place), kSolubility.size() - 2);
  const double along = place - static_cast<double>(below);
  const double per_100_g = (1 - along) * kSolubility[below] + along * kSolubility[below + 1];
  return 10 * per_100_g * water_density(t);
}

double lime_ph(double g_per_l, double t, PhModel model) {
  const double total = g_per_l / kMolarMassLime;
  double paired = 0, single = 1;  // mol/L of CaOH⁺; activity coefficient of OH⁻
  // The ionic strength depends on the pairing and the pairing on it; a dozen rounds settle both far
  // below a thousandth of a pH.
  for (int round = 0; round < 12 && model != PhModel::ideal; ++round) {
    const double strength = (4 * (total - paired) + (2 * total - paired) + paired) / 2;
    single = davies_gamma(1, strength, t);
    if (model == PhModel::davies) break;
    // paired = k (total − paired)(2 total − paired); γ(CaOH⁺) and γ(OH⁻) cancel.
    const double k = pair_constant(t) * davies_gamma(2, strength, t);
    const double linear = 1 + 3 * k * total;
    paired =
        4 * k * total * total / (linear + std::sqrt(linear * linear - 8 * k * k * total * total));
  }
  return water_pkw(t) + std::log10((2 * total - paired) * single);
}

}  // namespace inkwane::bath
