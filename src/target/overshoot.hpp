// What sharpening leaves at the edges of the target's patches. Internal to this room; see
// PointSpread.
#pragma once

#include "target/find.hpp"

namespace inkwane::target {

/// Overshoot before the patches' edges in encoded values, as a share of the step there: median over
/// the edges, beyond what noise would make. Optics alone only blur; what overshoots was sharpened.
/// 0 where fewer than eight edges have a step to judge.
[[nodiscard]] double edge_overshoot(const scan::Scan& scan, const Located& located);

}  // namespace inkwane::target
