#include "course/timeline.hpp"

#include <algorithm>

#include "treatment/reminders.hpp"

namespace inkwane::course {
namespace {

constexpr const char* kFollowUp = "follow-up";

/// Kinds of step that work on colour as long as they last.
bool takes_time(const Step& step) {
  return step.kind == "bath" || step.kind == "rinse" || step.kind == "deacidification" ||
         step.kind == "light";
}

void add(std::optional<double>& sum, const std::optional<double>& more) {
  if (sum) sum = more ? std::optional(*sum + *more) : std::nullopt;
}

/// The values, if all are there and each is above the one before.
std::optional<std::vector<double>> rising(const std::vector<Moment>& moments,
                                          std::optional<double> Moment::*value) {
  std::vector<double> out;
  for (const Moment& moment : moments) {
    if (!moment.counts()) continue;
    const std::optional<double>& x = moment.*value;
    if (!x || (!out.empty() && !(*x > out.back()))) return std::nullopt;
    out.push_back(*x);
  }
  return out;
}

}  // namespace

std::vector<Moment> lay_out(const std::vector<Stage>& stages) {
  const bool lit = std::any_of(stages.begin(), stages.end(), [](const Stage& stage) {
    return std::any_of(stage.steps.begin(), stage.steps.end(),
                       [](const Step& step) { return step.kind == "light"; });
  });
  std::vector<Moment> out;
  for (const Stage& stage : stages) {
    Moment moment;
    moment.stage = &stage;
    if (out.empty()) {
      moment.minutes = 0;
      if (lit) moment.dose_j_per_cm2 = 0;
    } else {
      const Moment& before = out.back();
      moment.minutes = before.minutes;
      moment.dose_j_per_cm2 = before.dose_j_per_cm2;
      for (const Step& step : stage.steps) {
        if (takes_time(step)) add(moment.minutes, step.number("minutes"));
        if (step.kind == "light") add(moment.dose_j_per_cm2, dose_j_per_cm2(step));
      }
      moment.follow_up = stage.kind == kFollowUp;
      moment.step = before.step + (moment.follow_up ? 0 : 1);
      moment.damp = treatment::damp_against_dry(stages.front(), stage);
    }
    out.push_back(std::move(moment));
  }
  return out;
}

Axis choose_axis(const std::vector<Moment>& moments) {
  if (const auto dose = rising(moments, &Moment::dose_j_per_cm2)) return {"dose_j_per_cm2", *dose};
  if (const auto minutes = rising(moments, &Moment::minutes)) return {"minutes", *minutes};
  Axis axis{"stage", {}};
  for (const Moment& moment : moments) {
    if (moment.counts()) axis.x.push_back(moment.step);
  }
  return axis;
}

}  // namespace inkwane::course
