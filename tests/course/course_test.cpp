// The course as a whole, on thousands of made treatments with known rates: forecasts hold the
// truth, advice is right where the truth is clear, and nothing is told where it is not.
#include "course/course.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include <catch2/catch.hpp>

#include "tests/course/made_series.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

bool holds(const std::optional<results::Estimate>& estimate, double truth) {
  return estimate && estimate->ci95[0] <= truth && truth <= estimate->ci95[1];
}

double share(int count, int of) {
  return static_cast<double>(count) / of;
}

/// Every region of a role decays so.
SeriesPlan uniform_plan(double rate, double floor, double ink_rate, double ink_floor) {
  SeriesPlan plan;
  for (int i = 0; i < 4; ++i) {
    plan.regions.push_back({"added-" + std::to_string(i), Role::added, rate, floor, 10.0 + i});
    plan.regions.push_back({"ink-" + std::to_string(i), Role::ink, ink_rate, ink_floor, 10.0 + i});
  }
  return plan;
}

int count_verdicts(const SeriesPlan& plan, int series, const std::string& verdict) {
  int count = 0;
  for (int s = 0; s < series; ++s) {
    count += make_series(plan, static_cast<std::uint64_t>(s)).course().advice->verdict == verdict
                 ? 1
                 : 0;
  }
  return count;
}

bool says(const std::vector<std::string>& sentences, const std::string& words) {
  return std::any_of(sentences.begin(), sentences.end(),
                     [&words](const std::string& s) { return s.find(words) != std::string::npos; });
}

}  // namespace

TEST_CASE("rates come out within 15 %, and intervals hold the truth") {
  constexpr int kSeries = 1000;
  std::vector<double> off;
  int rates = 0, points = 0, all_points = 0, removed = 0, lost = 0, step_removed = 0, step_lost = 0,
      last_removed = 0, last_lost = 0;
  for (int s = 0; s < kSeries; ++s) {
    const SeriesPlan plan = usual_plan(static_cast<std::uint64_t>(s));
    const int n = plan.later_stages;
    const results::Course course = make_series(plan, static_cast<std::uint64_t>(s)).course();
    REQUIRE(course.decays.size() == plan.regions.size());
    for (std::size_t i = 0; i < plan.regions.size(); ++i) {
      const TrueDecay& truth = plan.regions[i];
      const results::Decay& decay = course.decays[i];
      if (truth.role != Role::added || !decay.rate) continue;
      CHECK(decay.against == "minutes");
      const double rate = truth.rate / plan.minutes;
      off.push_back(std::abs(decay.rate->value / rate - 1));
      rates += holds(decay.rate, rate) ? 1 : 0;
    }
    for (int i = 1; i <= n; ++i) {
      const auto& point = course.points[static_cast<std::size_t>(i)];
      points += holds(point.removed, true_gone(plan, Role::added, i)) ? 1 : 0;
      points += holds(point.lost, true_gone(plan, Role::ink, i)) ? 1 : 0;
      all_points += 2;
    }
    const auto step = [&](Role role, int from) {
      return true_gone(plan, role, from + 1) - true_gone(plan, role, from);
    };
    last_removed += holds(course.last_step->removed, step(Role::added, n - 1)) ? 1 : 0;
    last_lost += holds(course.last_step->lost, step(Role::ink, n - 1)) ? 1 : 0;
    removed += holds(course.forecast->removed, true_gone(plan, Role::added, n + 1)) ? 1 : 0;
    lost += holds(course.forecast->lost, true_gone(plan, Role::ink, n + 1)) ? 1 : 0;
    step_removed += holds(course.forecast->step_removed, step(Role::added, n)) ? 1 : 0;
    step_lost += holds(course.forecast->step_lost, step(Role::ink, n)) ? 1 : 0;
  }
  std::sort(off.begin(), off.end());
  CHECK(100 * off.size() > 98U * 4U * kSeries);
  INFO("rate off by " << off[off.size() / 2] << " (median), " << off[off.size() * 9 / 10]
                      << " (p90)");
  CHECK(off[off.size() / 2] < 0.08);
  CHECK(off[off.size() * 85 / 100] < 0.15);
  CHECK(share(rates, static_cast<int>(off.size())) > 0.92);
  CHECK(share(points, all_points) > 0.93);
  INFO("last step " << last_removed << " " << last_lost << ", forecast " << removed << " " << lost
                    << ", its step " << step_removed << " " << step_lost);
  for (const int held : {last_removed, last_lost, removed, lost, step_removed, step_lost})
    CHECK(share(held, kSeries) > 0.93);
}

TEST_CASE("advice is right where the truth is clear, and told from noise where it is not") {
  constexpr int kSeries = 500;
  SeriesPlan early = uniform_plan(0.35, 0.1, 0.01, 0.5);
  early.later_stages = 3;
  CHECK(count_verdicts(early, kSeries, "go on") > 0.9 * kSeries);

  // The added colour has come to its floor; the inks fade on.
  CHECK(count_verdicts(uniform_plan(3, 0.15, 0.08, 0), kSeries, "stop") > 0.9 * kSeries);

  // Nothing moves any more: within noise there is nothing to be told.
  CHECK(count_verdicts(uniform_plan(3, 0.15, 0, 0), kSeries, "cannot tell") > 0.9 * kSeries);

  // Both move by as much as the noise: never a wrong verdict for sure.
  const SeriesPlan close = uniform_plan(0.5, 0.5, 0.02, 0);
  CHECK(count_verdicts(close, kSeries, "stop") < 0.05 * kSeries);

  SeriesPlan faint = early;
  faint.contrast_dE00 = 1.2;
  CHECK(count_verdicts(faint, 20, "stop") == 20);
}

TEST_CASE("a forecast reaches one step like the last, and needs two of them") {
  SeriesPlan plan = uniform_plan(0.5, 0.1, 0.02, 0);
  plan.later_stages = 1;
  const results::Course one = make_series(plan, 1).course();
  CHECK(one.points.size() == 2);
  REQUIRE(one.forecast);
  CHECK_FALSE(one.forecast->removed);
  CHECK_FALSE(one.forecast->note.empty());
  for (const results::Decay& decay : one.decays) {
    CHECK_FALSE(decay.rate);
    CHECK_FALSE(decay.note.empty());
  }
  CHECK(one.last_step->removed);

  plan.later_stages = 3;
  MadeSeries made = make_series(plan, 1);
  made.stages.back().steps = {{"bath", {{"minutes", 10.0}}}};  // the last step was a short one
  const results::Course course = made.course();
  REQUIRE(course.last_step->minutes);
  CHECK(*course.last_step->minutes == 10);
  CHECK(*course.points.back().minutes == 70);
  REQUIRE(course.forecast->step_removed);
  const results::Course longer = make_series(plan, 1).course();
  CHECK(course.forecast->step_removed->value < longer.forecast->step_removed->value);
}

TEST_CASE("a damp stage stands on the curve with a warning, and nothing is concluded from it") {
  const SeriesPlan plan = uniform_plan(0.5, 0.1, 0.02, 0);
  MadeSeries made = make_series(plan, 2);
  made.stages[2].condition = Condition::damp;
  made.series[0].believed.value[1] = 5;  // would ruin any fit
  const results::Course course = made.course();
  REQUIRE(course.points.size() == 5);
  CHECK_FALSE(course.points[2].counts);
  REQUIRE(course.points[2].warnings.size() == 1);
  CHECK(course.points[2].removed);
  CHECK(says(course.warnings, "DT2"));
  REQUIRE(course.decays[0].rate);
  CHECK_THAT(course.decays[0].rate->value * plan.minutes, WithinAbs(0.5, 0.15));

  SECTION("where it is the last, no advice can be given") {
    made.stages[4].condition = Condition::wet;
    CHECK(made.course().advice->verdict == "cannot tell");
    CHECK(made.course().last_step->to == "DT3");
  }
  SECTION("stages that are all damp may be compared with each other") {
    for (Stage& stage : made.stages) stage.condition = Condition::damp;
    CHECK(made.course().points[2].counts);
  }
}

TEST_CASE("a follow-up is no step of the treatment, but tells what came back") {
  SeriesPlan plan = uniform_plan(0.9, 0.05, 0.02, 0);
  MadeSeries made = make_series(plan, 3);
  made.stages.back().kind = "follow-up";
  made.stages.back().steps.clear();
  const results::Course same = made.course();
  CHECK(same.last_step->to == "DT3");
  CHECK_FALSE(same.points.back().counts);
  for (auto& series : made.series) {
    if (series.role == Role::added) series.believed.value[3] += 0.2;
  }
  CHECK(says(made.course().warnings, "came back"));
}

TEST_CASE("regions that were not measured throughout are named and not counted") {
  MadeSeries made = make_series(uniform_plan(0.5, 0.1, 0.02, 0), 4);
  made.series.erase(made.series.begin());  // added-0 could not be had at all
  const results::Course course = made.course();
  CHECK(says(course.warnings, "added-0"));
  double sum = 0;
  for (const results::CourseWeight& weight : course.weights) {
    CHECK(weight.region != "added-0");
    if (weight.role == Role::added) sum += weight.weight;
  }
  CHECK_THAT(sum, WithinAbs(1, 1e-12));
}

TEST_CASE("where the law of an ink is open, intervals span both and say so") {
  const SeriesPlan plan = uniform_plan(0.5, 0.1, 0.02, 0);
  MadeSeries made = make_series(plan, 5);
  const results::Course known = made.course();
  for (auto& series : made.series) {
    if (series.role != Role::ink) continue;
    series.film = series.believed;
    series.film->value.array() += 0.1;
  }
  const results::Course open = made.course();
  CHECK(says(open.warnings, "film"));
  const auto& a = *known.points.back().lost;
  const auto& b = *open.points.back().lost;
  CHECK(b.value == a.value);
  CHECK_THAT(b.ci95[0], WithinAbs(a.ci95[0] - 0.1, 1e-9));
  CHECK(b.ci95[1] == a.ci95[1]);
}

TEST_CASE("shares are set against dose where light was given, else minutes, else stages") {
  MadeSeries made = make_series(uniform_plan(0.5, 0.1, 0.02, 0), 6);
  CHECK(made.course().decays[0].against == "minutes");
  made.stages[2].steps[0].details.clear();  // one bath without its time
  CHECK(made.course().decays[0].against == "stage");
  CHECK_FALSE(made.course().points[2].minutes);
  CHECK(made.course().points[1].minutes);
  for (std::size_t i = 1; i < made.stages.size(); ++i)
    made.stages[i].steps = {{"light", {{"w_per_m2", 50.0}, {"minutes", 60.0}}}};
  const results::Course lit = made.course();
  CHECK(lit.decays[0].against == "dose_j_per_cm2");
  // 50 W/m² for an hour are 180 kJ/m², 18 J/cm².
  CHECK_THAT(*lit.points[1].dose_j_per_cm2, WithinAbs(18, 1e-9));
  CHECK_THAT(*lit.points.back().dose_j_per_cm2, WithinAbs(72, 1e-9));
}

TEST_CASE("cautions stand beside the advice, and nothing is called safe") {
  for (const double ink_rate : {0.0, 0.02, 0.1}) {
    const results::Course course = make_series(uniform_plan(0.4, 0.1, ink_rate, 0), 7).course();
    CHECK(course.cautions.size() >= 4);
    REQUIRE(course.advice);
    CHECK_FALSE(course.advice->thresholds.empty());
    CHECK(course.advice->reason.find("safe") == std::string::npos);
    CHECK(course.advice->verdict.find("safe") == std::string::npos);
  }
}
