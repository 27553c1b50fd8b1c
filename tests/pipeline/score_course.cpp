#include "tests/pipeline/score_course.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "tests/pipeline/kinds.hpp"

namespace inkwane::test {
namespace {

// A true change of the last step below this is within the noise of any scan: there is nothing to be
// told. One between the two is not judged.
constexpr double kNoise = 0.005, kClear = 0.03;

class ScoringCourse {
 public:
  ScoringCourse(const simulate::Scene& scene, const simulate::Truth& truth,
                const results::Course& course, Scores& scores)
      : scene_(scene), truth_(truth), course_(course), scores_(scores) {}

  void run() {
    for (const results::Decay& decay : course_.decays) score_decay(decay);
    for (const results::CoursePoint& point : course_.points) {
      if (point.stage == scene_.stages.front()) continue;
      cover("course: removed", point.removed, gone(Role::added, point.stage));
      cover("course: lost", point.lost, gone(Role::ink, point.stage));
    }
    const std::string from = *(scene_.stages.end() - 2), to = scene_.stages.back();
    const double removed = gone(Role::added, to) - gone(Role::added, from);
    const double lost = gone(Role::ink, to) - gone(Role::ink, from);
    cover("course: last step, removed", course_.last_step->removed, removed);
    cover("course: last step, lost", course_.last_step->lost, lost);
    cover("course: forecast, removed", course_.forecast->removed, gone(Role::added, kNextStage));
    cover("course: forecast, lost", course_.forecast->lost, gone(Role::ink, kNextStage));
    score_advice(removed, lost);
  }

 private:
  /// Share left of a region's colour, its own ink's fate where the stage was not scanned.
  [[nodiscard]] double left(const std::string& region, Role role, const std::string& stage) const {
    const auto& shares = role == Role::added ? truth_.residual : truth_.strength_kept;
    const auto& by_stage = shares.at(region);
    if (const auto at = by_stage.find(stage); at != by_stage.end()) return at->second;
    // Regions of solids are named by their ink, and what else tells them apart.
    std::string best;
    for (const auto& [ink, fate] : scene_.fates) {
      if (region.starts_with(ink) && ink.size() > best.size()) best = ink;
    }
    if (best.empty()) throw std::runtime_error("no ink is named like region " + region);
    return scene_.fates.at(best).kept.at(stage);
  }

  [[nodiscard]] double gone(Role role, const std::string& stage) const {
    double sum = 0;
    for (const results::CourseWeight& one : course_.weights) {
      if (one.role == role) sum += one.weight * (1 - left(one.region, role, stage));
    }
    return sum;
  }

  void cover(const std::string& figure, const std::optional<results::Estimate>& estimate,
             double truth) {
    if (!estimate) {
      ++scores_.unanswered;
      return;
    }
    const auto& [low, high] = estimate->ci95;
    scores_.covered[figure].push_back(low <= truth && truth <= high);
    scores_.half_width[figure].push_back((high - low) / 2);
    scores_.course[figure].add(estimate->value - truth, scene_.identifier);
  }

  void score_decay(const results::Decay& decay) {
    if (decay.role != Role::added) return;
    const auto at = [&](std::size_t i) { return left(decay.region, decay.role, scene_.stages[i]); };
    const double q = (at(1) - at(2)) / (1 - at(1));
    const double rate = -std::log(q) / kStepMinutes;
    // What is gone after one step has no rate that scans could tell.
    if (q < 0.2) return;
    cover("course: rate, per minute", decay.rate, rate);
    if (decay.rate) scores_.rate.add(std::abs(decay.rate->value / rate - 1), decay.region);
  }

  void score_advice(double removed, double lost) {
    const std::string& verdict = course_.advice->verdict;
    std::string right;
    if (std::max(removed, lost) < kNoise) right = "cannot tell";
    if (removed - lost > kClear) right = "go on";
    if (lost > kClear && removed < kNoise) right = "stop";
    if (right.empty()) return;
    scores_.advice[right + " → " + verdict] += 1;
  }

  const simulate::Scene& scene_;
  const simulate::Truth& truth_;
  const results::Course& course_;
  Scores& scores_;
};

}  // namespace

void score_course(const simulate::Scene& scene, const simulate::Truth& truth,
                  const results::Course& course, Scores& scores) {
  ScoringCourse(scene, truth, course, scores).run();
}

}  // namespace inkwane::test
