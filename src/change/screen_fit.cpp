#include "change/screen_fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "colour/strength.hpp"

namespace inkwane::change {
namespace {

/// How well the background between the dots is known, relative, and the least it counts as.
constexpr double kBackground = 0.01, kDarkestBackground = 0.5;
constexpr double kSolidPenalty = 4;        // χ² by which bare paper is preferred to a solid
constexpr double kSaturatedPenalty = 1e3;  // χ² of dots that would have to be blacker than black
constexpr double kBlack = 0.97;            // u of dots of 0.1 % of the background's light
constexpr double kBadFit = 25;             // χ² for each degree of freedom
constexpr double kFrom = 0.05, kTo = 0.97, kStep = 0.01, kStepOfTwo = 0.04, kFinestStep = 0.0005;
constexpr int kRounds = 8;  // of the overprint's correction, which settles by a factor of 5 each

using Eigen::Vector3d;
using Pair = std::array<double, 2>;

/// What the law makes the overprint of two dots pass (one way, against the background), beyond the
/// product of both.
double beyond_product(double background, const Pair& u) {
  const double r = std::max(background, colour::kLeastReflectance);
  const double k = colour::ks_from_reflectance(r);
  double sum = -k;
  for (const double v : u) sum += colour::ks_from_reflectance(r * (1 - v) * (1 - v));
  return std::sqrt(colour::reflectance_from_ks(std::max(sum, k)) / r) - (1 - u[0]) * (1 - u[1]);
}

/// Reflectance of a cell of screen j, averaged over the other screen: c + p (m + m′) + q m m′.
struct Averaged {
  double c, p, q;
  Averaged(double own, double other, const Cell& other_cell, double beyond) {
    const double w = own * other + beyond, a2 = other_cell.p00 / 2;
    c = other_cell.mean(other);
    p = -own + a2 * (w + own * other) - other_cell.q00 * other * w;
    q = own * own - 2 * a2 * own * w + other_cell.q00 * w * w;
  }
  [[nodiscard]] double mean(const Cell& cell) const { return c + p * cell.p00 + q * cell.q00; }
  [[nodiscard]] double amplitude(const Cell& cell) const { return -(p * cell.p1 + q * cell.q1); }
};

/// One channel of two screens: u of both and the background, against the paper.
std::pair<Pair, double> solve_two(const std::vector<Cell>& cells, const Pair& ratio, double mean,
                                  double paper, InkLaw law) {
  Pair u{}, asked = ratio;
  double background = mean;
  for (int round = 0; round < kRounds; ++round) {
    for (std::size_t j = 0; j < 2; ++j) u[j] = cells[j].absorbed(asked[j]);
    background = mean / (cells[0].mean(u[0]) * cells[1].mean(u[1]));
    if (law == InkLaw::film) break;  // the overprint is the product
    const double beyond = beyond_product(background * paper, u);
    for (std::size_t j = 0; j < 2; ++j) {
      const Averaged seen(u[j], u[1 - j], cells[1 - j], beyond);
      const double whole = seen.mean(cells[j]), exact = seen.amplitude(cells[j]) / whole;
      const double product = cells[j].amplitude(u[j]) / cells[j].mean(u[j]);
      if (exact > 1e-9) asked[j] = std::clamp(ratio[j] * product / exact, 0.0, 10.0);
      background = mean / whole;
    }
  }
  return {u, background};
}

}  // namespace

Vector3d ink_strength(InkLaw law, const Vector3d& background, const Vector3d& dot) {
  Vector3d result;
  for (int c = 0; c < 3; ++c) {
    result[c] = law == InkLaw::film ? colour::density(dot[c]) - colour::density(background[c])
                                    : colour::ks_from_reflectance(dot[c]) -
                                          colour::ks_from_reflectance(background[c]);
  }
  return result;
}

ScreenFit::ScreenFit(const ScreenStage& first, const std::vector<double>& period_mm,
                     const ScreenSetting& setting, const ScreenSheet& sheet)
    : setting_(setting) {
  const std::size_t n = period_mm.size();
  for (std::size_t j = 0; j < n; ++j)
    cells_.emplace_back(setting.spread_mm / period_mm[j], setting.form, setting.aspect[j]);
  double best = std::numeric_limits<double>::max();
  const double step = n == 1 ? kStep : kStepOfTwo;
  const auto take_better = [&](const std::vector<double>& trial) {
    const Misfit here = misfit(first, sheet, trial);
    if (here.chi2 >= best - 1e-9) return false;
    best = chi2 = here.chi2;
    over_solid = here.over_solid;
    coverage = trial;
    return true;
  };
  std::vector<double> trial(n, kFrom);
  for (trial[0] = kFrom; trial[0] <= kTo; trial[0] += step) {
    if (n == 1) {
      take_better(trial);
      continue;
    }
    for (trial[1] = kFrom; trial[1] <= kTo; trial[1] += step) take_better(trial);
  }
  for (double by = step / 2; by > kFinestStep; by /= 2) {
    for (bool moved = true; moved;) {
      moved = false;
      for (std::size_t j = 0; j < n; ++j) {
        for (const double sign : {-1.0, 1.0}) {
          trial = coverage;
          trial[j] = std::clamp(trial[j] + sign * by, kLeastCoverage, kMostCoverage);
          moved = take_better(trial) || moved;
        }
      }
    }
  }
}

Dots ScreenFit::dots(const ScreenStage& stage, const std::vector<double>& coverages) const {
  const std::size_t n = coverages.size();
  std::vector<Cell> cells;
  std::vector<Vector3d> ratio;
  Dots result;
  for (std::size_t j = 0; j < n; ++j) {
    const Peaks& p = stage.reading.peaks[j];
    cells.push_back(cells_[j].at(coverages[j]));
    Vector3d amplitude = Vector3d::Zero();
    for (std::size_t d = 0; d < 2; ++d) {
      amplitude += 0.5 * p.amplitude[d] *
                   std::exp(setting_.sharper * stage.u_sigma_px * p.transfer_by_sigma[d]);
    }
    ratio.push_back(amplitude.cwiseQuotient(stage.reading.mean));
    result.absorbed.emplace_back(Vector3d::Zero());
  }
  for (int c = 0; c < 3; ++c) {
    const double mean = stage.reading.mean[c] / stage.paper[c];
    if (n == 1) {
      const double u = cells[0].absorbed(ratio[0][c]);
      result.absorbed[0][c] = u;
      result.background[c] = mean / cells[0].mean(u);
    } else {
      const auto [u, background] =
          solve_two(cells, {ratio[0][c], ratio[1][c]}, mean, stage.paper[c], setting_.law);
      for (std::size_t j = 0; j < n; ++j) result.absorbed[j][c] = u[j];
      result.background[c] = background;
    }
    for (const Vector3d& u : result.absorbed) result.saturated = result.saturated || u[c] > kBlack;
  }
  return result;
}

ScreenFit::Misfit ScreenFit::misfit(const ScreenStage& first, const ScreenSheet& sheet,
                                    const std::vector<double>& coverages) const {
  const Dots here = dots(first, coverages);
  const auto against = [&here](const Vector3d& background) {
    double sum = 0;
    for (int c = 0; c < 3; ++c) {
      const double off = (here.background[c] - background[c]) /
                         (kBackground * std::max(background[c], kDarkestBackground));
      sum += off * off;
    }
    return sum;
  };
  Misfit result{against(Vector3d::Ones()), false};
  for (const Vector3d& solid : sheet.solids) {
    const double here_chi2 = against(solid) + kSolidPenalty;
    if (here_chi2 < result.chi2) result = {here_chi2, true};
  }
  for (std::size_t j = 0; j < sheet.inks.size(); ++j) {
    if (!sheet.inks[j]) continue;
    const KnownInk& ink = *sheet.inks[j];
    const double off = (here.absorbed[j][ink.channel] - ink.absorbed) / ink.u;
    result.chi2 += off * off;
  }
  if (here.saturated) result.chi2 += kSaturatedPenalty;
  return result;
}

std::vector<double> ScreenFit::u_coverage(const ScreenStage& first,
                                          const ScreenSheet& sheet) const {
  constexpr double kBy = 0.005, kMost = 0.15;
  std::vector<double> result;
  for (std::size_t j = 0; j < coverage.size(); ++j) {
    double width = 0;
    for (const double sign : {-1.0, 1.0}) {
      double off = 0;
      std::vector<double> trial = coverage;
      do {
        off += kBy;
        trial[j] = coverage[j] + sign * off;
      } while (off < kMost && trial[j] > kLeastCoverage && trial[j] < kMostCoverage &&
               misfit(first, sheet, trial).chi2 < chi2 + 1);
      width += off;
    }
    result.push_back(width / 2);
  }
  return result;
}

bool ScreenFit::bad() const {
  return chi2 > kBadFit * static_cast<double>(3 - coverage.size());
}

}  // namespace inkwane::change
