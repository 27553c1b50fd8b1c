// Diluting a stock with water: C1 V1 = C2 V2.
#pragma once

#include <optional>
#include <string>
#include <utility>

namespace inkwane::bath {

/// What the person knows of the mixture. At most one of stock_ml, parts and want_g_per_l; none of
/// them: the stock is used as it is.
struct MixingInput {
  double stock_g_per_l = 0;
  std::optional<double> stock_ml;  ///< with either water_ml or tray_ml
  std::optional<double> water_ml;
  std::optional<double> tray_ml;                   ///< everything in the tray, stock and water
  std::optional<std::pair<double, double>> parts;  ///< of stock, of water
  std::optional<double> want_g_per_l;              ///< the concentration aimed at
};

struct Mixture {
  double factor = 1;  ///< of dilution: 1 part and 3 parts are 4
  double g_per_l = 0;
  std::optional<double> stock_ml, water_ml, tray_ml;  ///< where they follow from the input
};

/// Throws Error(usage): a quantity that is not above 0, more stock than the tray holds, a stronger
/// bath than its stock, or too little or contradictory input.
[[nodiscard]] Mixture mix(const MixingInput& input);

/// "1:3" or "1+3" → 1 part of stock, 3 parts of water. Throws Error(usage).
[[nodiscard]] std::pair<double, double> read_parts(const std::string& text);

}  // namespace inkwane::bath
