#include "bath/water.hpp"

#include <cmath>

namespace inkwane::bath {
namespace {

constexpr double kZeroCelsius = 273.15;  // K, SI
constexpr double kDebyeHueckel25 = 0.509;

}  // namespace

double water_density(double t) {
  const double kg_per_m3 =
      (999.83952 +
       t * (16.945176 +
            t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t))))) /
      (1 + 16.879850e-3 * t);
  return kg_per_m3 / 1000;
}

double water_permittivity(double t) {
  return 87.740 + t * (-0.40008 + t * (9.398e-4 - 1.410e-6 * t));
}

double water_pkw(double t) {
  const double T = t + kZeroCelsius;
  const double of_density = 13.957 - 1262.3 / T + 8.5641e5 / (T * T);
  return -(-4.098 - 3245.2 / T + 2.2362e5 / (T * T) - 3.984e7 / (T * T * T) +
           of_density * std::log10(water_density(t)));
}

double debye_hueckel(double t) {
  const double at_25 = water_permittivity(25) * (25 + kZeroCelsius);
  return kDebyeHueckel25 * std::pow(at_25 / (water_permittivity(t) * (t + kZeroCelsius)), 1.5);
}

}  // namespace inkwane::bath
