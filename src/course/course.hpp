// All stages of a treatment → what each step took and cost, how the added colour decays, a forecast
// for one more step like the last, and advice.
#pragma once

#include <vector>

#include <inkwane/results.hpp>

#include "change/share_series.hpp"

namespace inkwane::course {

struct Input {
  const std::vector<Stage>& stages;                ///< in the treatment's order
  const std::vector<change::ShareSeries>& series;  ///< of both sides
  const std::vector<results::Region>& regions;     ///< for names, roles and contrasts
  bool calibrated = true;
};

/// None below two stages.
[[nodiscard]] std::optional<results::Course> make_course(const Input& input);

}  // namespace inkwane::course
