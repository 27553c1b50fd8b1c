// Whether to go on, from what the last step took and cost. Advice only: it never says that a step
// is safe.
#pragma once

#include <optional>
#include <string>

#include <inkwane/course.hpp>

namespace inkwane::course {

/// CIEDE2000 below which what remains is not seen against its surroundings: heritage just
/// noticeable (Heritage Science 2022, s40494-022-00767-6). Not derived for halftones on aged paper.
inline constexpr double kJustNoticeable = 1.7;

struct Evidence {
  std::optional<results::Estimate> removed, lost;  ///< by the last step
  /// removed − lost, with an interval of its own.
  std::optional<results::Estimate> balance;
  /// Of the added region that still stands out most, at the latest stage; none where one of them
  /// could not be had.
  std::optional<double> contrast_dE00;
  std::optional<results::Forecast> forecast;
  /// Why nothing can be told whatever the numbers; empty: no such reason.
  std::string barred;
};

[[nodiscard]] results::Advice advise(const Evidence& evidence);

/// "31 % (27 to 35 %)"
[[nodiscard]] std::string percent(const results::Estimate& share);

}  // namespace inkwane::course
