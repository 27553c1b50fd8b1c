// A side brought to cells of half a millimetre: large places are measured there as regions are.
#pragma once

#include "finding/sheet_view.hpp"

namespace inkwane::finding {

struct CoarseSide {
  change::SideInput side;  ///< without regions, and without scans to read again
  int block = 1;           ///< cells of the fine grid a side of a coarse one

  /// Middle of a coarse cell, in cells of the fine grid.
  [[nodiscard]] Point fine(double column, double row) const {
    return {(column + 0.5) * block - 0.5, (row + 0.5) * block - 0.5};
  }
};

[[nodiscard]] CoarseSide half_millimetre(const change::SideInput& fine);

}  // namespace inkwane::finding
