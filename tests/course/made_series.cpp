#include "tests/course/made_series.hpp"

#include <cmath>
#include <random>

namespace inkwane::test {
namespace {

std::string stage_id(int i) {
  return i == 0 ? "BT" : "DT" + std::to_string(i);
}

}  // namespace

double TrueDecay::at(double steps) const {
  return floor + (1 - floor) * std::exp(-rate * steps);
}

MadeSeries make_series(const SeriesPlan& plan, std::uint64_t seed) {
  std::mt19937_64 bits(seed);
  std::normal_distribution<double> normal;
  MadeSeries out;
  for (int s = 0; s <= plan.later_stages; ++s) {
    Stage stage;
    stage.id = stage_id(s);
    if (s > 0) stage.steps.push_back({"bath", {{"minutes", plan.minutes}}});
    out.stages.push_back(std::move(stage));
  }
  const Eigen::Index n = plan.later_stages;
  Eigen::VectorXd common(n + 1);
  for (double& z : common) z = normal(bits);
  for (const TrueDecay& decay : plan.regions) {
    Eigen::VectorXd z(n + 1);
    for (Eigen::Index i = 0; i <= n; ++i)
      z[i] = std::sqrt(plan.common) * common[i] + std::sqrt(1 - plan.common) * normal(bits);
    change::ShareSeries series;
    series.region = decay.region;
    series.role = decay.role;
    series.area_mm2 = decay.area_mm2;
    series.first = stage_id(0);
    series.believed.value.resize(n);
    series.believed.covariance.resize(n, n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const double share = decay.at(static_cast<double>(i) + 1);
      series.stages.push_back(stage_id(static_cast<int>(i) + 1));
      // An error of the first stage scales every share.
      series.believed.value[i] = share + plan.u * z[i + 1] - share * plan.u_first * z[0];
      for (Eigen::Index j = 0; j < n; ++j) {
        const double other = decay.at(static_cast<double>(j) + 1);
        series.believed.covariance(i, j) =
            share * other * plan.u_first * plan.u_first + (i == j ? plan.u * plan.u : 0);
      }
    }
    out.series.push_back(std::move(series));
    results::Region region;
    region.id = decay.region;
    region.role = decay.role;
    region.area_mm2 = decay.area_mm2;
    for (int s = 1; s <= plan.later_stages; ++s) {
      results::RegionChange change;
      change.from = stage_id(0);
      change.to = stage_id(s);
      if (decay.role == Role::added) change.contrast_dE00 = plan.contrast_dE00;
      region.changes.push_back(std::move(change));
    }
    out.regions.push_back(std::move(region));
  }
  return out;
}

results::Course MadeSeries::course() const {
  return *course::make_course({stages, series, regions, true});
}

double true_gone(const SeriesPlan& plan, Role role, double steps) {
  double gone = 0, area = 0;
  for (const TrueDecay& decay : plan.regions) {
    if (decay.role != role) continue;
    gone += decay.area_mm2 * (1 - decay.at(steps));
    area += decay.area_mm2;
  }
  return gone / area;
}

SeriesPlan usual_plan(std::uint64_t seed) {
  std::mt19937_64 bits(seed * 7919 + 1);
  const auto between = [&bits](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(bits);
  };
  SeriesPlan plan;
  for (int i = 0; i < 4; ++i) {
    plan.regions.push_back({"added-" + std::to_string(i), Role::added, between(0.3, 1.2),
                            between(0, 0.25), between(5, 60)});
  }
  for (int i = 0; i < 5; ++i) {
    plan.regions.push_back({"ink-" + std::to_string(i), Role::ink, between(0.005, 0.08),
                            between(0.3, 0.8), between(5, 60)});
  }
  plan.later_stages = seed % 2 == 0 ? 3 : 4;
  plan.common = between(0.2, 0.8);
  return plan;
}

}  // namespace inkwane::test
