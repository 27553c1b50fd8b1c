#include "colour/strength.hpp"

#include <algorithm>
#include <cmath>

namespace inkwane::colour {

double ks_from_reflectance(double reflectance) {
  const double r = std::max(reflectance, kLeastReflectance);
  return (1 - r) * (1 - r) / (2 * r);
}

double reflectance_from_ks(double ks) {
  // The textbook form 1 + q − √(q² + 2q) cancels for large q; this is the same number.
  const double q = std::max(ks, 0.0);
  return 1 / (1 + q + std::sqrt(q * q + 2 * q));
}

double density(double reflectance) {
  return -std::log10(std::max(reflectance, kLeastReflectance));
}

double coverage_from_density(double tint, double solid, double n) {
  return (1 - std::pow(10, -tint / n)) / (1 - std::pow(10, -solid / n));
}

}  // namespace inkwane::colour
