// Shares over all regions of a role.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "change/share_series.hpp"

namespace inkwane::course {

/// What the shares are read as: what is believed; by the other law of inks, where it is open; as
/// screens, where they may be ones too fine to be seen.
enum class Reading { believed, film, screened };

/// The region's shares at `stages`, all of which it has.
[[nodiscard]] change::JointShares shares_at(const change::ShareSeries& series, Reading reading,
                                            std::span<const std::string> stages);

/// Those that differ for some of the regions; `believed` first.
[[nodiscard]] std::vector<Reading> readings_of(std::span<const change::ShareSeries* const> series);

[[nodiscard]] bool has_all(const change::ShareSeries& series, std::span<const std::string> stages);

/// Regions of one role, weighted by their areas.
struct Pool {
  std::vector<const change::ShareSeries*> members;
  std::vector<double> weights;  ///< of sum 1

  [[nodiscard]] bool knows(std::span<const std::string> stages) const;
  /// Weighted mean at `stages`, which it knows. What the regions err by (the target's fit, the
  /// paper, the law of inks) is mostly the same in all of them, so that their standard deviations
  /// are averaged and not their variances: C = (Σ w √C_region)².
  [[nodiscard]] change::JointShares mean(Reading reading,
                                         std::span<const std::string> stages) const;
};

/// Those regions of `role` that have a share at all of `stages` against `first`.
[[nodiscard]] Pool pool(const std::vector<change::ShareSeries>& series, Role role,
                        const std::string& first, std::span<const std::string> stages);

}  // namespace inkwane::course
