// The cautions that stand under every bath and every exposure to light.
#pragma once

#include <string>
#include <vector>

namespace inkwane::bath {

/// In the order to be printed. `lime`: the bath holds calcium hydroxide.
[[nodiscard]] std::vector<std::string> bath_cautions(bool lime);
[[nodiscard]] std::vector<std::string> light_cautions();

}  // namespace inkwane::bath
