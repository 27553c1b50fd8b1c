#include "cli/summary.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "cli/table.hpp"

namespace inkwane::cli {
std::string with_interval(const results::Number& value, const results::Interval& ends,
                          double factor, int decimals, const char* unit) {
  if (!value) return "–";
  std::string text = fmt::format("{:.{}f}{}", factor * *value, decimals, unit);
  if (ends) {
    text += fmt::format(" ({:.{}f}–{:.{}f})", factor * (*ends)[0], decimals, factor * (*ends)[1],
                        decimals);
  }
  return text;
}

namespace {

std::string regions_table(const results::Results& results) {
  Table table(
      {"region", "side", "role", "change", "ΔE00 (95 %)", "seen", "kept (95 %)", "remains (95 %)"});
  for (const results::Region& region : results.regions) {
    for (const results::RegionChange& change : region.changes) {
      table.add({region.id, to_string(region.side), to_string(region.role),
                 change.from + " → " + change.to,
                 with_interval(change.dE00, change.dE00_ci95, 1, 2, ""),
                 change.detectable ? (*change.detectable ? "yes" : "no") : "–",
                 with_interval(change.strength_kept, change.strength_kept_ci95, 100, 0, " %"),
                 with_interval(change.residual, change.residual_ci95, 100, 0, " %")});
    }
  }
  return table.text();
}

std::string sides_text(const results::Results& results) {
  std::string out;
  for (const auto& [side, result] : results.sides) {
    for (const results::SideChange& change : result.changes) {
      out +=
          fmt::format("  {}, {} → {}: ink lost on {:.1f} % of the sheet, colour gained on {:.1f} %",
                      to_string(side), change.from, change.to, 100 * change.lost_ink.share,
                      100 * change.gained_colour.share);
      if (change.bleed_through) {
        out += fmt::format(", bleed-through on {:.1f} %", 100 * change.bleed_through->area.share);
      }
      out += "\n";
    }
  }
  return out;
}

}  // namespace

std::string summary(const results::Results& results, const std::filesystem::path& folder) {
  std::string out = results.object.title + "\n";
  if (!results.calibrated) out += "UNCALIBRATED: no number below is tied to a colour target.\n";
  const bool changes = std::any_of(results.regions.begin(), results.regions.end(),
                                   [](const auto& region) { return !region.changes.empty(); });
  if (changes) out += "\n" + regions_table(results);
  if (const std::string sides = sides_text(results); !sides.empty()) out += "\n" + sides;
  if (!results.warnings.empty()) out += "\nWarnings:\n";
  for (const std::string& warning : results.warnings) out += "  " + warning + "\n";
  out += fmt::format("\nReport: {} and report.pdf\n", (folder / "report.html").string());
  return out;
}

}  // namespace inkwane::cli
