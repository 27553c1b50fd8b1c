// Whether the colours of two aligned scans lie the same way round: a symmetric arrangement of plain
// shapes has the same structure in the mirror, but not the same colours. Internal to this room.
#pragma once

#include "align/stages.hpp"

namespace inkwane::align {

enum class Lies { alike, mirrored, turned };

/// `map`: from the first grid's cells to the later one's. Anything but `alike` only where the
/// colours agree clearly better that way: treatment changes colours, it does not exchange them.
[[nodiscard]] Lies lies(const View& first, const View& later, const cv::Matx23d& map);

}  // namespace inkwane::align
