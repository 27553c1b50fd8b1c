// The course of a treatment over its stages (docs/formats.md, "course"): what each step took away
// and cost, how the added colour decays, and whether to go on. A number that could not be had is
// std::nullopt.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include <inkwane/treatment.hpp>

namespace inkwane::results {

/// A value with its 95 % interval.
struct Estimate {
  double value = 0;
  std::array<double, 2> ci95{0, 0};
};

/// One stage on the trade-off curve, against the first stage.
struct CoursePoint {
  std::string stage;
  std::optional<double> minutes;         ///< of treatment up to here; null where a step says none
  std::optional<double> dose_j_per_cm2;  ///< of light up to here; null where none was given
  std::optional<Estimate> removed;       ///< share of the added colour gone, over all added regions
  std::optional<Estimate> lost;          ///< share of the inks' strength gone, over all ink regions
  /// False: on the curve, but nothing is concluded from it (damper or drier than the first stage,
  /// or a follow-up).
  bool counts = true;
  std::vector<std::string> warnings;
};

/// How much a region counts in the shares over all regions of its role; 1 in sum for each role.
struct CourseWeight {
  std::string region;
  Role role = Role::ink;
  double weight = 0;
};

/// First-order decay with a floor of one region: c = floor + (1 − floor) exp(−(rate x)^shape).
struct Decay {
  std::string region;
  Role role = Role::added;        ///< `added`: c is its residual; `ink`: its strength kept
  std::string against;            ///< "minutes", "dose_j_per_cm2" or "stage"
  std::optional<Estimate> rate;   ///< per unit of `against`
  std::optional<Estimate> floor;  ///< what will not go
  double shape = 1;               ///< 1: first order; else stretched
  std::string note;               ///< why there is none, or what limits it
};

/// The last step: what it took and what it cost.
struct LastStep {
  std::string from, to;
  std::optional<double> minutes, dose_j_per_cm2;  ///< of the step; null as in CoursePoint
  std::optional<Estimate> removed, lost;          ///< of what was there before treatment
};

/// One more step like the last.
struct Forecast {
  std::string like_from, like_to;                   ///< the step that would be repeated
  std::optional<Estimate> removed, lost;            ///< in all, after that step
  std::optional<Estimate> step_removed, step_lost;  ///< by that step alone
  std::string note;                                 ///< why there is none, or what it rests on
};

/// To go on, to stop, or that it can't be told.
struct Advice {
  std::string verdict;                  ///< "go on", "stop" or "cannot tell"
  std::string reason;                   ///< one sentence
  std::vector<std::string> thresholds;  ///< those used, a sentence each
};

struct Course {
  std::vector<CoursePoint> points;  ///< in the treatment's order; empty below two stages
  std::vector<CourseWeight> weights;
  std::vector<Decay> decays;
  std::optional<LastStep> last_step;
  std::optional<Forecast> forecast;
  std::optional<Advice> advice;
  std::vector<std::string> warnings;
  std::vector<std::string> cautions;  ///< to stand wherever the advice stands
};

}  // namespace inkwane::results
