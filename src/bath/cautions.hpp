// The cautions that stand under every bath, every exposure to light, and all advice.
#pragma once

#include <string>
#include <vector>

namespace inkwane::bath {

/// In the order to be printed. `lime`: the bath holds calcium hydroxide.
[[nodiscard]] std::vector<std::string> bath_cautions(bool lime);
[[nodiscard]] std::vector<std::string> light_cautions();
/// Wherever it is advised to go on with a treatment or to stop.
[[nodiscard]] std::vector<std::string> course_cautions();

}  // namespace inkwane::bath
