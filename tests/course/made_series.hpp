// Treatments whose true course is known, as the change room would hand them on: shares with errors
// drawn from a stated covariance. No scans: thousands of them are quick.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "course/course.hpp"

namespace inkwane::test {

/// True decay of one region: floor + (1 − floor) exp(−rate · steps).
struct TrueDecay {
  std::string region;
  Role role = Role::added;
  double rate = 0, floor = 0;
  double area_mm2 = 10;
  [[nodiscard]] double at(double steps) const;
};

struct SeriesPlan {
  std::vector<TrueDecay> regions;
  int later_stages = 4;
  double minutes = 30;     ///< of every step
  double u = 0.012;        ///< standard uncertainty of a share by what is its own at each stage
  double u_first = 0.012;  ///< the same by the first stage, which all shares are relative to
  /// Share of the errors' variance that all regions have in common.
  double common = 0.5;
  double contrast_dE00 = 20;  ///< of every added region, at every stage
};

/// The plan's treatment as input to make_course, with errors drawn by `seed`.
struct MadeSeries {
  std::vector<Stage> stages;
  std::vector<change::ShareSeries> series;
  std::vector<results::Region> regions;
  [[nodiscard]] results::Course course() const;
};
[[nodiscard]] MadeSeries make_series(const SeriesPlan& plan, std::uint64_t seed);

/// True share gone over all regions of a role, by area, after so many steps.
[[nodiscard]] double true_gone(const SeriesPlan& plan, Role role, double steps);

/// Four added colours and five inks, with rates, floors and areas drawn by `seed`.
[[nodiscard]] SeriesPlan usual_plan(std::uint64_t seed);

}  // namespace inkwane::test
