// Kinds of simulated scenes the program is judged on.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "simulate/scene.hpp"

namespace inkwane::test {

struct Kind {
  std::string name;
  std::string what;  ///< in words, for the table of accuracy
  std::function<simulate::Scene(std::uint64_t seed)> scene;
  int share = 1;  ///< large scenes: one for so many of the others
};

/// Of kind "course": minutes of each of its steps, and the stage after the last, which has fates
/// but no scan.
inline constexpr double kStepMinutes = 30;
inline constexpr const char* kNextStage = "next";

/// All kinds, the plain ones first.
[[nodiscard]] const std::vector<Kind>& kinds();

}  // namespace inkwane::test
