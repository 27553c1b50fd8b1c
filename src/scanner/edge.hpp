// The scanner's point spread, from the slanted edges of the card's squares.
#pragma once

#include <string>

#include "scanner/card_read.hpp"
#include "scanner/scanner.hpp"

namespace inkwane::scanner {

/// Throws Error(scan), naming `file`, where the squares have no clear edges.
[[nodiscard]] PointSpread measure_point_spread(const CardReadings& readings, const CardPlace& place,
                                               const std::string& file);

}  // namespace inkwane::scanner
