// What differs between scans although they should have been made alike: the scanner's drift, its
// profile, the target itself, the sheet's size and flatness.
#pragma once

#include <optional>
#include <span>

#include "align/stages.hpp"
#include "target/fit.hpp"
#include "vet/finding.hpp"

namespace inkwane::vet {

/// Two scans of one side, for messages.
struct Between {
  std::string first_stage, later_stage;
  std::string later_file;
};

/// How far the target's neutral patches moved from one scan to another, before any fit, as the
/// profiles read them: in the mean over the patches.
struct NeutralDrift {
  double dL = 0;   ///< |ΔL*|
  double dab = 0;  ///< √(Δa*² + Δb*²)
  [[nodiscard]] double largest() const { return dL > dab ? dL : dab; }
};
/// None where no neutral patch can be used in both.
[[nodiscard]] std::optional<NeutralDrift> neutral_drift(const target::Reference& reference,
                                                        const target::TargetReadings& first,
                                                        const target::TargetReadings& later);

/// Nothing up to 1, a note beyond: the fit to the target corrects it, and what that leaves is part
/// of each scan's own error (target/uncertainty.hpp). Beyond 8 throws Error(scan).
[[nodiscard]] Findings judge_drift(const NeutralDrift& drift, const Between& scans);

/// An embedded profile and how results call it.
struct Profile {
  const std::vector<std::uint8_t>* icc = nullptr;  ///< empty: none
  std::string name, sha256;
};
/// A profile that was stripped, added or changed.
[[nodiscard]] Findings judge_profiles(const Profile& first, const Profile& later,
                                      const Between& scans);

/// Patches that are off their reference in every scan, always the same way: soiled or faded, or the
/// reference is another edition's. At least two scans.
[[nodiscard]] Findings patches_off(const target::Reference& reference,
                                   std::span<const target::Fit* const> fits);

/// Expansion and cockle of the sheet.
[[nodiscard]] Findings judge_shape(const align::Warp& warp, double pitch_mm, const Between& scans);

}  // namespace inkwane::vet
