// What the target in a scan tells about how it was made.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "scan/scan.hpp"
#include "target/find.hpp"

namespace inkwane::cli {

/// Overshoot at the patches' edges, as a share of the step there: median over the edges. Optics
/// alone only blur; what overshoots was sharpened. None where no edge has a step to judge.
[[nodiscard]] std::optional<double> edge_overshoot(const scan::Scan& scan,
                                                   const target::Located& located, int rows,
                                                   int columns);

/// The target's neutral patches as the scan shows them.
struct GreyRamp {
  int patches = 0;  ///< neutral ones; fewer than 3 tell nothing
  std::vector<std::string>
      reversed;  ///< ids of patches that read no darker than the next darker one
  std::vector<std::string> clipped;  ///< ids of patches (any colour) with clipped pixels
};
[[nodiscard]] GreyRamp grey_ramp(const target::Reference& reference,
                                 const std::vector<target::PatchReading>& readings);

}  // namespace inkwane::cli
