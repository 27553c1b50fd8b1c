#include "bath/slips.hpp"

#include <fmt/format.h>

namespace inkwane::bath {
namespace {

constexpr double kSmallestTrayMl = 10, kLargestTrayMl = 300'000;
constexpr double kSunAboveAir = 1361;  // W/m², total solar irradiance, from memory
constexpr double kFaintest = 0.05;     // W/m²

}  // namespace

std::optional<std::string> question(const std::string& name, double value,
                                    const std::string& other_name, double other,
                                    const std::string& unit) {
  const bool more = value >= kSlipFactor * other;
  if (!more && other < kSlipFactor * value) return std::nullopt;
  return fmt::format(
      "Is the unit right? {} of {:g} {} is {:.0f} times {} {} of {:g} {}; check that both are in "
      "{}.",
      name, value, unit, more ? value / other : other / value,
      more ? "larger than" : "smaller than", other_name, other, unit, unit);
}

std::optional<std::string> question_tray(double ml) {
  if (ml >= kSmallestTrayMl && ml <= kLargestTrayMl) return std::nullopt;
  return fmt::format(
      "Is the unit right? A tray of {:g} mL is {} than any for a sheet; check that "
      "the volume is in mL.",
      ml, ml < kSmallestTrayMl ? "smaller" : "larger");
}

std::optional<std::string> question_irradiance(double w_per_m2) {
  if (w_per_m2 > kSunAboveAir) {
    return fmt::format(
        "Is the unit right? {:g} W/m² is more than sunlight above the atmosphere; 1 "
        "mW/cm² is 10 W/m².",
        w_per_m2);
  }
  if (w_per_m2 < kFaintest) {
    return fmt::format(
        "Is the unit right? {:g} W/m² is too faint to bleach within weeks; 1 mW/cm² "
        "is 10 W/m².",
        w_per_m2);
  }
  return std::nullopt;
}

}  // namespace inkwane::bath
