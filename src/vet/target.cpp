#include "vet/target.hpp"

#include <algorithm>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace inkwane::vet {
namespace {

// Limits are common practice, no source, unless a comment says otherwise.
constexpr double kLeastDarker = 3;  // L* by which the next grey must be darker to be told apart
constexpr std::size_t kManyClipped = 8;  // one patch in so many
// Overshoot at edges, a share of the step: of unsharpened simulated scans 0.001.
constexpr double kSharpened = 0.012, kMuchSharpened = 0.12;

void judge_ramp(const GreyRamp& ramp, std::size_t patches, Findings& out) {
  if (ramp.clipped.size() * kManyClipped > patches) {  // the fit names them, be they few or many
    out.push_back(
        {Verdict::doubtful,
         fmt::format("{} of the target's {} patches are clipped", ramp.clipped.size(), patches),
         "set exposure and black point so that white and black patch stay within the "
         "scale"});
  }
  if (!ramp.reversed.empty()) {
    out.push_back({Verdict::doubtful,
                   fmt::format("the target's grey ramp is reversed at {}: a curve or automatic "
                               "exposure bent the tones",
                               fmt::join(ramp.reversed, ", ")),
                   "switch off automatics and curves, and check the reference file"});
  } else if (ramp.patches >= 3) {
    out.push_back(
        {Verdict::good, fmt::format("the {} grey patches darken in order", ramp.patches), ""});
  }
}

void judge_sharpening(const std::optional<target::PointSpread>& spread, Findings& out) {
  if (!spread) return;
  const std::string what =
      fmt::format("overshoot at the patches' edges: {:.1f} % of the step", 100 * spread->overshoot);
  if (spread->overshoot <= kSharpened) {
    out.push_back({Verdict::good, what, ""});
  } else {
    out.push_back({spread->overshoot <= kMuchSharpened ? Verdict::note : Verdict::doubtful,
                   what + ": the scan was sharpened",
                   "switch off sharpening in the scanner's software"});
  }
}

}  // namespace

GreyRamp grey_ramp(const target::Reference& reference,
                   const std::vector<target::PatchReading>& readings) {
  GreyRamp ramp;
  std::vector<std::size_t> greys;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    if (readings[i].clipped > kClippedShare) ramp.clipped.push_back(reference.patches[i].id);
    if (chroma(reference.patches[i].lab) < kNeutral && readings[i].usable) greys.push_back(i);
  }
  std::sort(greys.begin(), greys.end(), [&](std::size_t a, std::size_t b) {
    return reference.patches[a].lab.L > reference.patches[b].lab.L;
  });
  ramp.patches = static_cast<int>(greys.size());
  for (std::size_t k = 0; k + 1 < greys.size(); ++k) {
    const std::size_t light = greys[k], dark = greys[k + 1];
    if (reference.patches[light].lab.L - reference.patches[dark].lab.L < kLeastDarker) continue;
    if (readings[light].linear.mean() <= readings[dark].linear.mean()) {
      ramp.reversed.push_back(reference.patches[light].id);
    }
  }
  return ramp;
}

Findings judge_target(const target::Reference& reference,
                      const std::vector<target::PatchReading>& readings, const target::Fit& fit,
                      const std::optional<target::PointSpread>& spread) {
  Findings out;
  judge_ramp(grey_ramp(reference, readings), readings.size(), out);
  judge_sharpening(spread, out);
  if (!fit.doubtful) {
    out.push_back({Verdict::good,
                   fmt::format("fit to the target, left-out error ΔE00: median {:.2f}, p95 {:.2f}, "
                               "largest {:.2f}",
                               fit.left_out_median, fit.left_out_p95, fit.left_out_max),
                   ""});
  }
  for (const std::string& warning : fit.warnings) {
    out.push_back({fit.doubtful ? Verdict::doubtful : Verdict::note, warning, ""});
  }
  return out;
}

}  // namespace inkwane::vet
