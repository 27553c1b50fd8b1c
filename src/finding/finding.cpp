#include "finding/finding.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "finding/sheet_inks.hpp"
#include "finding/still_shows.hpp"
#include "finding/suspects.hpp"
#include "finding/tidelines.hpp"

namespace inkwane::finding {

results::Findings find_all(const std::vector<SheetView>& sides) {
  results::Findings findings;
  for (const SheetView& side : sides) {
    if (!side.measured()) continue;
    find_still_shows(side, findings);
    find_suspects(side, findings);
    find_tidelines(side, findings);
    find_sheet_inks(side, findings);
  }
  std::stable_sort(findings.still_shows.begin(), findings.still_shows.end(),
                   [](const auto& a, const auto& b) { return a.contrast_dE00 > b.contrast_dE00; });
  std::stable_sort(findings.suspects.begin(), findings.suspects.end(),
                   [](const auto& a, const auto& b) { return a.score > b.score; });
  std::stable_sort(findings.tidelines.begin(), findings.tidelines.end(),
                   [](const auto& a, const auto& b) { return a.contrast_dE00 > b.contrast_dE00; });
  int number = 0;
  for (results::Suspect& suspect : findings.suspects)
    suspect.id = fmt::format("suspect-{}", ++number);
  return findings;
}

}  // namespace inkwane::finding
