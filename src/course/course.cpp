#include "course/course.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "bath/cautions.hpp"
#include "course/advice.hpp"
#include "course/decay.hpp"
#include "course/pool.hpp"
#include "course/timeline.hpp"

namespace inkwane::course {
namespace {

using change::JointShares;
using change::ShareSeries;
using results::Course;
using results::CoursePoint;

constexpr double k95 = 1.96;  // standard deviations either side of 95 %

/// Of the first, with an interval that holds those of all; none where one of them is none.
template <typename Source, typename EstimateOf>
std::optional<Estimate> spanning(const std::vector<Source>& sources,
                                 const EstimateOf& estimate_of) {
  std::optional<Estimate> out;
  for (const Source& source : sources) {
    const std::optional<Estimate> one = estimate_of(source);
    if (!one) return std::nullopt;
    if (!out) out = one;
    out->ci95 = {std::min(out->ci95[0], one->ci95[0]), std::max(out->ci95[1], one->ci95[1])};
  }
  return out;
}

/// What went, of what was there: 1 − share, whose standard uncertainty is `u`.
Estimate gone(double share, double u) {
  return {1 - share, {1 - share - k95 * u, 1 - share + k95 * u}};
}

Estimate complement(const Estimate& share) {
  return {1 - share.value, {1 - share.ci95[1], 1 - share.ci95[0]}};
}

/// What went between two of the stages of `shares`.
Estimate gone_between(const JointShares& shares, Eigen::Index from, Eigen::Index to) {
  const Eigen::MatrixXd& c = shares.covariance;
  // The first stage is no reading: there all is there.
  const double before = from < 0 ? 1 : shares.value[from];
  const double variance =
      from < 0 ? c(to, to) : c(from, from) + c(to, to) - c(from, to) - c(to, from);
  return gone(1 - (before - shares.value[to]), std::sqrt(std::max(0.0, variance)));
}

/// "a, b and c"
std::string listed(const std::vector<std::string>& names) {
  if (names.size() < 2) return fmt::format("{}", fmt::join(names, ""));
  return fmt::format("{} and {}", fmt::join(names.begin(), names.end() - 1, ", "), names.back());
}

class Making {
 public:
  explicit Making(const Input& input)
      : input_(input), moments_(lay_out(input.stages)), axis_(choose_axis(moments_)) {
    for (std::size_t i = 1; i < moments_.size(); ++i) {
      if (moments_[i].counts()) counted_.push_back(moments_[i].stage->id);
    }
    const std::string& first = input.stages.front().id;
    added_ = pool(input.series, Role::added, first, counted_);
    inks_ = pool(input.series, Role::ink, first, counted_);
  }

  Course run() {
    warn();
    for (const Moment& moment : moments_) out_.points.push_back(point(moment));
    for (const Pool* one : {&added_, &inks_}) {
      for (std::size_t i = 0; i < one->members.size(); ++i) {
        out_.weights.push_back({one->members[i]->region, one->members[i]->role, one->weights[i]});
      }
    }
    for (const ShareSeries& series : input_.series) {
      if (series.first == input_.stages.front().id) out_.decays.push_back(decay(series));
    }
    if (!counted_.empty()) out_.last_step = last_step();
    out_.forecast = forecast();
    out_.advice = advise(evidence());
    warn_of_reversion();
    out_.cautions = bath::course_cautions();
    return std::move(out_);
  }

 private:
  [[nodiscard]] CoursePoint point(const Moment& moment) const {
    CoursePoint out;
    out.stage = moment.stage->id;
    out.minutes = moment.minutes;
    out.dose_j_per_cm2 = moment.dose_j_per_cm2;
    out.counts = moment.counts();
    if (&moment == &moments_.front()) {
      if (!added_.members.empty()) out.removed = Estimate{};
      if (!inks_.members.empty()) out.lost = Estimate{};
    } else {
      const std::vector<std::string> here{moment.stage->id};
      out.removed = gone_at(added_, here);
      out.lost = gone_at(inks_, here);
    }
    if (moment.damp) out.warnings.push_back(*moment.damp);
    return out;
  }

  [[nodiscard]] static std::optional<Estimate> gone_at(const Pool& pool,
                                                       const std::vector<std::string>& stage) {
    if (!pool.knows(stage)) return std::nullopt;
    return spanning(readings_of(pool.members), [&](Reading reading) {
      return std::optional(gone_between(pool.mean(reading, stage), -1, 0));
    });
  }

  /// What went from `from` to `to` by all regions of a pool; `from` empty: the first stage.
  [[nodiscard]] static std::optional<Estimate> step_of(const Pool& pool, const std::string& from,
                                                       const std::string& to) {
    std::vector<std::string> stages{to};
    if (!from.empty()) stages.insert(stages.begin(), from);
    if (!pool.knows(stages)) return std::nullopt;
    const auto last = static_cast<Eigen::Index>(stages.size()) - 1;
    return spanning(readings_of(pool.members), [&](Reading reading) {
      return std::optional(gone_between(pool.mean(reading, stages), last - 1, last));
    });
  }

  [[nodiscard]] const Moment& moment(const std::string& stage) const {
    return *std::find_if(moments_.begin(), moments_.end(),
                         [&stage](const Moment& m) { return m.stage->id == stage; });
  }

  /// The last stage that counts but one; empty: the first.
  [[nodiscard]] std::string before_last() const {
    return counted_.size() < 2 ? std::string() : *(counted_.end() - 2);
  }

  [[nodiscard]] results::LastStep last_step() const {
    results::LastStep out;
    const std::string from = before_last();
    out.from = from.empty() ? input_.stages.front().id : from;
    out.to = counted_.back();
    const Moment &a = moment(out.from), &b = moment(out.to);
    if (a.minutes && b.minutes) out.minutes = *b.minutes - *a.minutes;
    if (a.dose_j_per_cm2 && b.dose_j_per_cm2)
      out.dose_j_per_cm2 = *b.dose_j_per_cm2 - *a.dose_j_per_cm2;
    out.removed = step_of(added_, from, out.to);
    out.lost = step_of(inks_, from, out.to);
    return out;
  }

  [[nodiscard]] DecayFit fit(const ShareSeries& series, Reading reading) const {
    const JointShares shares = shares_at(series, reading, counted_);
    return DecayFit({{axis_.x.begin() + 1, axis_.x.end()}, shares.value, shares.covariance});
  }

  [[nodiscard]] results::Decay decay(const ShareSeries& series) const {
    results::Decay out;
    out.region = series.region;
    out.role = series.role;
    out.against = axis_.name;
    if (!has_all(series, counted_)) {
      out.note = "It was not measured at every stage.";
      return out;
    }
    if (counted_.size() < kLeastReadings) {
      out.note = "One step alone tells no rate: it takes three stages or more.";
      return out;
    }
    const std::vector<const ShareSeries*> alone{&series};
    std::vector<DecayFit> all;
    for (const Reading reading : readings_of(alone)) all.push_back(fit(series, reading));
    out.rate = spanning(all, [](const DecayFit& one) { return one.rate(); });
    out.floor = spanning(all, [](const DecayFit& one) { return std::optional(one.floor()); });
    out.shape = all.front().shape();
    out.note = decay_note(all.front(), out.rate.has_value());
    return out;
  }

  [[nodiscard]] std::string decay_note(const DecayFit& fitted, bool rate) const {
    if (!fitted.follows()) {
      return "The stages do not follow a decay of this form; the intervals are widened for it.";
    }
    if (!rate) {
      return "The stages set the rate no upper end: too little went, or most of it at the first "
             "step.";
    }
    if (counted_.size() == kLeastReadings) {
      return "Two later stages determine the curve, so that nothing tells whether its form is "
             "right.";
    }
    return {};
  }

  [[nodiscard]] results::Forecast forecast() const {
    results::Forecast out;
    if (!out_.last_step) {
      out.note = "There is no step yet.";
      return out;
    }
    out.like_from = out_.last_step->from;
    out.like_to = out_.last_step->to;
    if (counted_.size() < kLeastReadings) {
      out.note = "One step alone tells no forecast: it takes three stages or more.";
      return out;
    }
    // The step ahead is one of those already made, so it is shorter than the span observed.
    const double now = axis_.x.back(), ahead = now + (now - axis_.x[axis_.x.size() - 2]);
    const auto predict = [&](const Pool& pool, std::optional<Estimate>& total,
                             std::optional<Estimate>& step) {
      total = expected(pool, [&](const DecayFit& one) { return complement(one.at(ahead)); });
      step = expected(pool, [&](const DecayFit& one) { return one.gone_between(now, ahead); });
    };
    predict(added_, out.removed, out.step_removed);
    predict(inks_, out.lost, out.step_lost);
    out.note = fmt::format(
        "It rests on {} steps and reaches one more like {} → {}, no further; it takes that step to "
        "be of the same kind, strength, temperature and time.",
        counted_.size(), out.like_from, out.like_to);
    return out;
  }

  /// Weighted mean of what the regions' own curves tell: the sum of several decays is no decay of
  /// the same form. Their errors count as common to all, as in Pool::mean.
  template <typename EstimateOf>
  [[nodiscard]] std::optional<Estimate> expected(const Pool& pool,
                                                 const EstimateOf& estimate_of) const {
    if (pool.members.empty()) return std::nullopt;
    return spanning(readings_of(pool.members), [&](Reading reading) {
      Estimate mean;
      for (std::size_t i = 0; i < pool.members.size(); ++i) {
        const Estimate one = estimate_of(fit(*pool.members[i], reading));
        mean.value += pool.weights[i] * one.value;
        for (std::size_t end = 0; end < 2; ++end) mean.ci95[end] += pool.weights[i] * one.ci95[end];
      }
      return std::optional(mean);
    });
  }

  [[nodiscard]] std::optional<double> most_contrast() const {
    std::optional<double> most;
    for (const results::Region& region : input_.regions) {
      if (region.role != Role::added) continue;
      const auto change = std::find_if(
          region.changes.begin(), region.changes.end(), [&](const results::RegionChange& c) {
            return c.from == input_.stages.front().id && c.to == counted_.back();
          });
      if (change == region.changes.end() || !change->contrast_dE00) return std::nullopt;
      most = std::max(most.value_or(0), *change->contrast_dE00);
    }
    return most;
  }

  [[nodiscard]] Evidence evidence() const {
    Evidence out;
    const auto treated = std::find_if(moments_.rbegin(), moments_.rend(),
                                      [](const Moment& m) { return !m.follow_up; });
    if (treated->damp) {
      out.barred = fmt::format(
          "The latest stage, {}, cannot be compared with the first: one was scanned {} and the "
          "other {}; scan the sheet dry.",
          treated->stage->id, to_string(input_.stages.front().condition),
          to_string(treated->stage->condition));
    }
    if (counted_.empty()) {
      if (out.barred.empty()) out.barred = "No step has been measured yet.";
      return out;
    }
    out.contrast_dE00 = most_contrast();
    out.removed = out_.last_step->removed;
    out.lost = out_.last_step->lost;
    if (out.removed && out.lost) {
      const auto half = [](const Estimate& e, std::size_t end) {
        return std::abs(e.ci95[end] - e.value);
      };
      const double value = out.removed->value - out.lost->value;
      out.balance = Estimate{value,
                             {value - std::hypot(half(*out.removed, 0), half(*out.lost, 1)),
                              value + std::hypot(half(*out.removed, 1), half(*out.lost, 0))}};
    }
    out.forecast = out_.forecast;
    return out;
  }

  void warn() {
    if (!input_.calibrated) {
      out_.warnings.emplace_back(
          "Uncalibrated: no number of the course is tied to a colour target.");
    }
    for (const auto& [pool, role, what] :
         {std::tuple(&added_, Role::added, "the added colour removed"),
          std::tuple(&inks_, Role::ink, "the ink lost")}) {
      const std::vector<std::string> missing = left_out(*pool, role);
      if (pool->members.empty()) {
        out_.warnings.push_back(
            fmt::format("Nothing is known of {}: no region of role \"{}\" was measured at every "
                        "stage.",
                        what, to_string(role)));
      } else if (!missing.empty()) {
        out_.warnings.push_back(fmt::format(
            "Not counted in {}, since not measured at every stage: {}.", what, listed(missing)));
      }
      if (std::any_of(pool->members.begin(), pool->members.end(),
                      [](const ShareSeries* s) { return s->film || s->screened; })) {
        out_.warnings.push_back(
            fmt::format("How some colours lie on the paper is not known (in it, as a film, or as "
                        "screens too fine to be seen); the intervals of {} span all that is "
                        "possible.",
                        what));
      }
    }
    for (const Moment& moment : moments_) {
      if (!moment.damp) continue;
      out_.warnings.push_back(
          fmt::format("Stage {} stands on the curve but nothing is concluded from it: {}",
                      moment.stage->id, *moment.damp));
    }
  }

  [[nodiscard]] std::vector<std::string> left_out(const Pool& pool, Role role) const {
    std::vector<std::string> out;
    for (const results::Region& region : input_.regions) {
      const bool counted =
          std::any_of(pool.members.begin(), pool.members.end(),
                      [&region](const ShareSeries* s) { return s->region == region.id; });
      if (region.role == role && !counted) out.push_back(region.id);
    }
    return out;
  }

  /// What a follow-up shows: added colour that came back.
  void warn_of_reversion() {
    if (counted_.empty()) return;
    for (const Moment& later : moments_) {
      if (!later.follow_up || later.damp) continue;
      const auto more = step_of(added_, counted_.back(), later.stage->id);
      if (!more || more->ci95[1] >= 0) continue;
      const Estimate back{-more->value, {-more->ci95[1], -more->ci95[0]}};
      out_.warnings.push_back(
          fmt::format("Between {} and the follow-up {} added colour came back: {} of what there "
                      "was before treatment.",
                      counted_.back(), later.stage->id, percent(back)));
    }
  }

  const Input& input_;
  std::vector<Moment> moments_;
  Axis axis_;
  std::vector<std::string> counted_;  // later stages that count
  Pool added_, inks_;
  Course out_;
};

}  // namespace

std::optional<Course> make_course(const Input& input) {
  if (input.stages.size() < 2) return std::nullopt;
  return Making(input).run();
}

}  // namespace inkwane::course
