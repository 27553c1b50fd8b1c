// Kinds of simulated scenes the program is judged on.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "simulate/scene.hpp"

namespace inkwane::test {

/// How the program is told of the scanner: not at all, by a scan of its card, or (to judge what
/// correcting gains) by a made file that says κ is 0 with the uncertainty of a typical scanner.
enum class ScannerFile { none, card, left_alone };

struct Kind {
  std::string name;
  std::string what;  ///< in words, for the table of accuracy
  std::function<simulate::Scene(std::uint64_t seed)> scene;
  int share = 1;  ///< large scenes: one for so many of the others
  ScannerFile scanner = ScannerFile::none;
};

/// Of kind "course": minutes of each of its steps, and the stage after the last, which has fates
/// but no scan.
inline constexpr double kStepMinutes = 30;
inline constexpr const char* kNextStage = "next";

/// All kinds, the plain ones first.
[[nodiscard]] const std::vector<Kind>& kinds();

}  // namespace inkwane::test
