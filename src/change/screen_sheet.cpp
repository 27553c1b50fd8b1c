#include "change/screen_sheet.hpp"

#include <algorithm>
#include <cmath>

namespace inkwane::change {
namespace {

/// Before the sheet is asked: simulated paper and common practice, no source.
constexpr LightSpread kUsual{0.05, 0.02};
constexpr double kLeastUMm = 0.004;
constexpr std::array<double, 5> kSpreads{0.01, 0.03, 0.05, 0.07, 0.09};
constexpr std::size_t kUsualSpread = 2;
/// By how much u of dots and of their solid may differ: a sixth of a dark ink's K/S. Common
/// practice, no source.
constexpr double kSameFilm = 0.02;
constexpr double kSameInk = 0.99;      // cosine of two inks' densities over the channels
constexpr double kLeastDensity = 0.1;  // of a solid, in its strongest channel

using Eigen::Vector3d;

/// u of one lattice's dots, for each spread.
struct Trace {
  std::size_t region = 0, lattice = 0;
  int channel = 0;
  Vector3d density = Vector3d::Zero();  // at the usual spread
  std::array<double, kSpreads.size()> absorbed{}, u{};
  int group = -1;

  [[nodiscard]] double at(const std::array<double, kSpreads.size()>& values, double spread) const {
    const double place = std::clamp((spread - kSpreads[0]) / (kSpreads[1] - kSpreads[0]), 0.0,
                                    static_cast<double>(kSpreads.size() - 1) - 1e-9);
    const auto i = static_cast<std::size_t>(place);
    return values[i] + (place - static_cast<double>(i)) * (values[i + 1] - values[i]);
  }
};

/// Screens of one ink, and its solid if there is one.
struct Group {
  Vector3d density = Vector3d::Zero();
  std::optional<Vector3d> solid;  // reflectance against the paper
  std::vector<const Trace*> members;

  /// u that the ink has in a channel, and how sure, if light spreads so.
  [[nodiscard]] KnownInk known(double spread) const {
    const int channel = members.front()->channel;
    if (solid) return {channel, 1 - std::sqrt((*solid)[channel]), kSameFilm};
    double sum = 0, weight = 0;
    for (const Trace* t : members) {
      const double u = std::hypot(t->at(t->u, spread), kSameFilm);
      sum += t->at(t->absorbed, spread) / (u * u);
      weight += 1 / (u * u);
    }
    return {channel, sum / weight, std::hypot(kSameFilm, 1 / std::sqrt(weight))};
  }
  [[nodiscard]] bool tells() const { return members.size() > (solid ? 0 : 1); }
  [[nodiscard]] double cost(double spread) const {
    if (!tells()) return 0;
    const KnownInk ink = known(spread);
    double sum = 0;
    for (const Trace* t : members) {
      const double off = t->at(t->absorbed, spread) - ink.absorbed,
                   u = std::hypot(t->at(t->u, spread), kSameFilm);
      sum += off * off / (u * u);
    }
    return sum;
  }
};

bool same_ink(const Vector3d& a, const Vector3d& b) {
  return a.dot(b) > kSameInk * a.norm() * b.norm();
}

Vector3d density_of(const Vector3d& reflectance) {
  return -reflectance.cwiseMax(1e-3).array().log10();
}

std::vector<Trace> trace(const std::vector<FirstLook>& screens, const ScreenSheet& bare) {
  std::vector<Trace> result;
  for (std::size_t r = 0; r < screens.size(); ++r) {
    const FirstLook& look = screens[r];
    const std::size_t n = look.period_mm.size(), first = result.size();
    for (std::size_t j = 0; j < n; ++j) {
      const Peaks& peaks = look.stage.reading.peaks[j];
      Trace t{r, j, 0, Vector3d::Zero(), {}, {}, -1};
      (peaks.amplitude[0] + peaks.amplitude[1]).maxCoeff(&t.channel);
      result.push_back(t);
    }
    for (std::size_t s = 0; s < kSpreads.size(); ++s) {
      ScreenSetting setting;
      setting.spread_mm = kSpreads[s];
      setting.aspect.assign(n, 1);
      const ScreenFit fit(look.stage, look.period_mm, setting, bare);
      const Dots dots = fit.dots(look.stage);
      const std::vector<double> u = fit.u_coverage(look.stage, bare);
      for (std::size_t j = 0; j < n; ++j) {
        Trace& t = result[first + j];
        std::vector<double> moved = fit.coverage;
        moved[j] = std::min(moved[j] + u[j], kMostCoverage);
        t.absorbed[s] = dots.absorbed[j][t.channel];
        t.u[s] = std::abs(fit.dots(look.stage, moved).absorbed[j][t.channel] - t.absorbed[s]);
        if (s == kUsualSpread)
          t.density = density_of((1 - dots.absorbed[j].array()).square().matrix());
      }
    }
  }
  return result;
}

std::vector<Group> groups_of(std::vector<Trace>& traces, const std::vector<Vector3d>& solids) {
  std::vector<Group> groups;
  for (const Vector3d& solid : solids) {
    const Vector3d density = density_of(solid);
    if (density.maxCoeff() > kLeastDensity) groups.push_back({density, solid, {}});
  }
  for (Trace& t : traces) {
    auto best = groups.end();
    for (auto g = groups.begin(); g != groups.end(); ++g) {
      if (!same_ink(g->density, t.density)) continue;
      // Of alike solids (tints of one ink) the one that is most like the dots.
      if (best == groups.end() ||
          (g->density - t.density).norm() < (best->density - t.density).norm())
        best = g;
    }
    if (best == groups.end()) best = groups.insert(groups.end(), {t.density, std::nullopt, {}});
    best->members.push_back(&t);
    t.group = static_cast<int>(best - groups.begin());
  }
  return groups;
}

}  // namespace

LearntSheet learn_sheet(const std::vector<FirstLook>& screens,
                        const std::vector<Vector3d>& solids) {
  ScreenSheet bare;
  bare.solids = solids;
  std::vector<Trace> traces = trace(screens, bare);
  const std::vector<Group> groups = groups_of(traces, solids);

  const auto cost = [&groups](double spread) {
    const double off = (spread - kUsual.mm) / kUsual.u_mm;
    double sum = off * off;
    for (const Group& g : groups) sum += g.cost(spread);
    return sum;
  };
  constexpr double kBy = 0.001;
  LearntSheet result;
  result.spread = kUsual;
  for (double s = kSpreads.front(); s <= kSpreads.back(); s += kBy) {
    if (cost(s) < cost(result.spread.mm)) result.spread.mm = s;
  }
  // Where the cost has risen by 1, on the mean of both sides; what lies beyond the range is not
  // asked.
  double width = 0;
  for (const double sign : {-1.0, 1.0}) {
    double off = kBy;
    while (off < kUsual.u_mm && cost(result.spread.mm + sign * off) < cost(result.spread.mm) + 1)
      off += kBy;
    width += off;
  }
  result.spread.u_mm = std::max(kLeastUMm, width / 2);

  result.of_region.assign(screens.size(), bare);
  for (std::size_t r = 0; r < screens.size(); ++r)
    result.of_region[r].inks.resize(screens[r].period_mm.size());
  for (const Trace& t : traces) {
    const Group& group = groups[static_cast<std::size_t>(t.group)];
    if (!group.tells()) continue;
    KnownInk ink = group.known(result.spread.mm);
    if (ink.channel != t.channel) continue;
    result.of_region[t.region].inks[t.lattice] = ink;
  }
  return result;
}

}  // namespace inkwane::change
