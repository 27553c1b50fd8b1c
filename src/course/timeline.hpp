// The stages of a treatment in time: what was done up to each, and which of them may be compared.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <inkwane/treatment.hpp>

namespace inkwane::course {

/// One stage. The first is where everything starts: no minutes, no dose.
struct Moment {
  const Stage* stage = nullptr;
  int step = 0;                          ///< how many stages of treatment lie behind it
  std::optional<double> minutes;         ///< in baths, rinses, deacidification and light up to here
  std::optional<double> dose_j_per_cm2;  ///< of light up to here
  bool follow_up = false;
  std::optional<std::string> damp;  ///< why it may not be compared with the first
  /// Whether conclusions may be drawn from it.
  [[nodiscard]] bool counts() const { return !follow_up && !damp; }
};

/// Minutes are unknown from the first step on that has none, dose likewise; without any light there
/// is no dose.
[[nodiscard]] std::vector<Moment> lay_out(const std::vector<Stage>& stages);

/// What shares are set against: dose where every later stage that counts adds to it, else minutes
/// likewise, else the number of stages.
struct Axis {
  std::string name;       ///< "dose_j_per_cm2", "minutes" or "stage"
  std::vector<double> x;  ///< of every moment that counts, the first included
};
[[nodiscard]] Axis choose_axis(const std::vector<Moment>& moments);

}  // namespace inkwane::course
