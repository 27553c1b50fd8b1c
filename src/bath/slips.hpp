// Slips of units: a quantity that is a thousand times off what stands beside it.
#pragma once

#include <optional>
#include <string>

namespace inkwane::bath {

/// Two quantities of one unit that differ by this factor or more are questioned: the step from
/// millilitres to litres, or from grams to milligrams, with room for what is true by chance.
inline constexpr double kSlipFactor = 500;

/// A sentence that questions `value` against `other` (both above 0, in `unit`); none where the two
/// are within the factor. The names are words such as "the stock volume".
[[nodiscard]] std::optional<std::string> question(const std::string& name, double value,
                                                  const std::string& other_name, double other,
                                                  const std::string& unit);

/// A sentence that questions a tray's volume in mL that no tray for a sheet has; limits are common
/// practice, no source: 10 mL and 300 L.
[[nodiscard]] std::optional<std::string> question_tray(double ml);

/// A sentence that questions an irradiance in W/m² beyond sunlight above the atmosphere (about
/// 1361) or below 0.05, where bleaching would take weeks (common practice, no source).
[[nodiscard]] std::optional<std::string> question_irradiance(double w_per_m2);

}  // namespace inkwane::bath
