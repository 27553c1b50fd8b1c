// The middle of several values.
#pragma once

#include <vector>

namespace inkwane::target {

/// The upper median; at least one value.
[[nodiscard]] double median(std::vector<double> values);

}  // namespace inkwane::target
