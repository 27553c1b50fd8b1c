// Recto and verso of one sheet.
#pragma once

#include <optional>

#include "align/stages.hpp"

namespace inkwane::align {

struct Pairing {
  cv::Mat to_recto;  ///< CV_32FC2 on the verso's grid: the cell (column, row) of the recto's grid
                     ///< on the other side of the paper; empty where the two could not be paired
  std::optional<Turn>
      turn_seen;  ///< how the sheet was turned, as the scans tell it; none: they can't tell
  std::optional<double> pairing_mm;  ///< standard uncertainty of the position; none: not paired
  std::vector<std::string> warnings;
};

/// First stages of both sides: mirrored, by outline, refined by the show-through both carry where
/// there is enough of it. `turn` is what the treatment file says.
[[nodiscard]] Pairing pair_sides(const View& recto, const View& verso, Turn turn);

}  // namespace inkwane::align
