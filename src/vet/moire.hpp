// Dots of a screen that beat with the scan's pixels.
#pragma once

#include <optional>

#include "vet/finding.hpp"
#include "vet/pixels.hpp"

namespace inkwane::vet {

/// The strongest regular pattern of dots in the scan.
struct Dots {
  double cycles_per_px = 0;
};

/// Looks through the most textured windows of the scan. None where no pattern of dots stands out.
[[nodiscard]] std::optional<Dots> find_dots(const scan::Scan& scan, const PixelFacts& facts,
                                            const colour::Linearisation& linearisation);

/// What resolution does to them: moiré where they come near the pixels' own frequency, or may
/// be the image of a finer screen.
[[nodiscard]] Finding judge(const Dots& dots, double resolution_dpi);

}  // namespace inkwane::vet
