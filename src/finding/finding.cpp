#include "finding/finding.hpp"

#include <algorithm>

#include "finding/still_shows.hpp"

namespace inkwane::finding {

results::Findings find_all(const std::vector<SheetView>& sides) {
  results::Findings findings;
  for (const SheetView& side : sides) {
    if (!side.measured()) continue;
    find_still_shows(side, findings);
  }
  std::stable_sort(findings.still_shows.begin(), findings.still_shows.end(),
                   [](const auto& a, const auto& b) { return a.contrast_dE00 > b.contrast_dE00; });
  return findings;
}

}  // namespace inkwane::finding
