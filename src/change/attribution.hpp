// Which colours a gain of absorption came from.
#pragma once

#include <array>
#include <vector>

#include "change/sources.hpp"

namespace inkwane::change {

struct Attribution {
  std::array<float, kMostSources> amount{};  ///< Σ K/S gained from each colour
  float explained = 0;           ///< share of the squared gain, in its own uncertainties
  float channel[3] = {0, 0, 0};  ///< K/S explained, a channel
};

/// Σ K/S of a colour behind a place, diffused, from which it can have come through.
inline constexpr float kBehind = 0.01F;

/// Non-negative least squares of a gain of K/S (weights: 1 / variance, a channel) on the directions
/// of the colours that lie behind. `presence`: Σ K/S of each there; of colours alike, a slight
/// penalty prefers the one of which more lies there, and several only count where one alone does
/// not come as near.
[[nodiscard]] Attribution attribute(const float gain[3], const float weight[3],
                                    const std::vector<SourceColour>& colours,
                                    const std::array<float, kMostSources>& presence);

}  // namespace inkwane::change
