#include "target/fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <optional>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include <inkwane/error.hpp>

#include "target/least_squares.hpp"
#include "target/metric.hpp"

namespace inkwane::target {
namespace {

/// Share of clipped pixels above which a patch's mean says nothing sure of its colour.
constexpr double kClippedShare = 0.02;
/// Fewest patches for each rung: below, what it adds is more than the patches can hold.
constexpr std::array<int, kRungs> kFewest{6, 8, 15, 20};
/// A soiled patch (docs/method.md): leaving it out lowers the cost by more than this many times the
/// mean square of what is left, and it is off by more than the second figure, in ΔE00.
constexpr double kSoiledDrop = 60, kSoiledDE00 = 3.5;
/// Left-out median above which the numbers are doubtful (docs/formats.md, exit code 1).
constexpr double kDoubtfulMedian = 2.0;
/// Left-out median above which the readings are not those of the reference at all.
constexpr double kHopelessMedian = 12.0;

double quantile(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  const double at = share * static_cast<double>(values.size() - 1);
  const auto low = static_cast<std::size_t>(at);
  const auto high = std::min(low + 1, values.size() - 1);
  return values[low] + (at - static_cast<double>(low)) * (values[high] - values[low]);
}

/// One rung fitted to the used patches, and to them without each one.
struct Candidate {
  Rung rung = Rung::linear;
  double start_gamma = 1;
  Parameters parameters;
  double cost = 0;
  std::vector<double> cost_without;   ///< by patch; 0 for patches that are not used
  std::vector<double> left_out_dE00;  ///< by patch, also of those not used
  double left_out_rms = 0;
  double misfit_scale = 0;
};

/// Encoded value that a rising table of linear ones turns into `linear`.
double encoded_of(const std::vector<float>& table, double linear) {
  const auto above = std::lower_bound(table.begin() + 1, table.end() - 1, linear);
  const double low = *(above - 1), high = *above;
  const double part = high > low ? std::clamp((linear - low) / (high - low), 0.0, 1.0) : 0.0;
  return (static_cast<double>(above - 1 - table.begin()) + part) /
         static_cast<double>(table.size() - 1);
}

int count(const std::vector<bool>& used) {
  return static_cast<int>(std::count(used.begin(), used.end(), true));
}

/// The best of several starts; none whose tone turns round.
std::optional<Candidate> fit_whole(const PatchData& patches, const std::vector<bool>& used,
                                   Rung rung, const std::vector<double>& starts) {
  std::optional<Candidate> best;
  for (const double gamma : starts) {
    const LeastSquares problem(patches, used, rung, gamma);
    Candidate c;
    c.rung = rung;
    c.start_gamma = gamma;
    c.parameters = problem.solve(problem.start());
    c.cost = problem.cost(c.parameters);
    if (!std::isfinite(c.cost) || !tone_rises(c.parameters)) continue;
    if (!best || c.cost < best->cost) best = c;
  }
  return best;
}

void leave_one_out(Candidate& c, const PatchData& patches, const std::vector<bool>& used) {
  const int n = patches.size();
  c.cost_without.assign(n, 0);
  c.left_out_dE00.assign(n, 0);
  double squares = 0, mahalanobis = 0;
  for (int i = 0; i < n; ++i) {
    std::vector<bool> others = used;
    others[i] = false;
    const LeastSquares problem(patches, others, c.rung, c.start_gamma);
    const Parameters p = used[i] ? problem.solve(c.parameters) : c.parameters;
    c.left_out_dE00[i] = ciede2000(problem.predict(p, i), patches.reference[i]);
    if (!used[i]) continue;
    c.cost_without[i] = problem.cost(p);
    squares += c.left_out_dE00[i] * c.left_out_dE00[i];
    const Eigen::MatrixXd spread = problem.patch_jacobian(p, i) * problem.estimator(p);
    const Eigen::Matrix3d covariance = spread * spread.transpose() + Eigen::Matrix3d::Identity();
    const Eigen::Vector3d off = problem.patch_residual(p, i);
    mahalanobis += off.dot(covariance.ldlt().solve(off));
  }
  c.left_out_rms = std::sqrt(squares / count(used));
  c.misfit_scale = std::sqrt(mahalanobis / (3.0 * count(used)));
}

Candidate climb(const PatchData& patches, const std::vector<bool>& used,
                const std::vector<double>& starts, const std::string& file) {
  std::optional<Candidate> best;
  for (int rung = 0; rung < kRungs; ++rung) {
    if (count(used) < kFewest[rung]) break;
    auto candidate = fit_whole(patches, used, static_cast<Rung>(rung), starts);
    if (!candidate) continue;
    leave_one_out(*candidate, patches, used);
    if (!best || candidate->left_out_rms < best->left_out_rms) best = candidate;
  }
  if (!best) {
    throw Error(ExitCode::scan,
                fmt::format("{}: no correction fits the target's patches to their reference; check "
                            "that the reference file belongs to this target",
                            file));
  }
  return *best;
}

/// The patch that the others contradict, if there is one.
std::optional<int> soiled(const Candidate& c, const std::vector<bool>& used) {
  const int residuals = 3 * (count(used) - 1);
  std::optional<int> worst;
  double largest = kSoiledDrop;
  for (std::size_t i = 0; i < used.size(); ++i) {
    if (!used[i] || c.left_out_dE00[i] <= kSoiledDE00) continue;
    const double drop = (c.cost - c.cost_without[i]) / (c.cost_without[i] / residuals);
    if (drop > largest) {
      largest = drop;
      worst = static_cast<int>(i);
    }
  }
  return worst;
}

}  // namespace

Fit fit_target(const Reference& reference, const std::vector<PatchReading>& readings,
               const colour::Linearisation& profile, const std::string& file) {
  // Without a profile a plain power of the encoded value is the safer guess in the darks: sRGB's
  // own curve is followed by it nearly as well as by itself, other curves better
  // (docs/accuracy.md).
  const colour::Linearisation linearisation =
      profile.tone_known() ? profile : colour::Linearisation::identity();
  const auto before_tone = [&profile](Eigen::Vector3d linear) {
    if (!profile.tone_known()) {
      for (int c = 0; c < 3; ++c) linear[c] = encoded_of(profile.tables()[c], linear[c]);
    }
    return linear;
  };
  const int n = static_cast<int>(reference.patches.size());
  PatchData patches;
  std::vector<bool> used(n, true);
  std::vector<std::string> clipped;
  for (int i = 0; i < n; ++i) {
    patches.reference.push_back(reference.patches[i].lab);
    patches.linear.push_back(before_tone(readings[i].linear));
    patches.metric.push_back(ciede2000_metric(reference.patches[i].lab));
    if (readings[i].clipped > kClippedShare) {
      used[i] = false;
      clipped.push_back(reference.patches[i].id);
    }
  }
  if (count(used) < kFewest[0]) {
    throw Error(
        ExitCode::scan,
        fmt::format("{}: only {} patches of the target can be used, the others are clipped; "
                    "scan again with automatic exposure off and a lower exposure",
                    file, count(used)));
  }

  // γ is about 1 behind a profile; without one it is anything between a mild curve and a display's.
  const std::vector<double> starts =
      linearisation.tone_known() ? std::vector<double>{1.0} : std::vector<double>{1.4, 1.8, 2.2};
  Candidate best = climb(patches, used, starts, file);
  std::vector<std::string> dirty;
  for (int allowed = std::max(1, n / 12); allowed > 0; --allowed) {
    const auto patch = soiled(best, used);
    if (!patch || count(used) - 1 < kFewest[0]) break;
    used[*patch] = false;
    dirty.push_back(reference.patches[*patch].id);
    best = climb(patches, used, starts, file);
  }

  const LeastSquares problem(patches, used, best.rung, best.start_gamma);
  const Eigen::MatrixXd estimator = problem.estimator(best.parameters);
  Fit fit(ScanColour(linearisation, best.rung, best.parameters, estimator, best.misfit_scale));
  fit.left_out_dE00 = best.left_out_dE00;
  fit.used = used;
  fit.parameters_spent =
      (problem.jacobian(best.parameters).topRows(3 * n) * estimator.leftCols(3 * n)).trace();
  std::vector<double> left_out;
  double noise = 0;
  for (int i = 0; i < n; ++i) {
    fit.fitted.push_back(problem.predict(best.parameters, i));
    if (!used[i]) continue;
    left_out.push_back(best.left_out_dE00[i]);
    for (int c = 0; c < 3; ++c) {
      Eigen::Vector3d shifted = readings[i].linear;
      shifted[c] += readings[i].standard_error[c];
      const LabD50 lab = to_lab(fit.colour.to_xyz(fit.colour.light_of(before_tone(shifted))));
      noise += std::pow(ciede2000(fit.fitted[i], lab), 2);
    }
  }
  fit.noise_dE00 = std::sqrt(noise / count(used));
  fit.left_out_median = quantile(left_out, 0.5);
  fit.left_out_p95 = quantile(left_out, 0.95);
  fit.left_out_max = quantile(left_out, 1.0);

  if (fit.left_out_median > kHopelessMedian) {
    throw Error(
        ExitCode::scan,
        fmt::format("{}: the target's patches are off their reference by ΔE00 {:.1f} in the "
                    "median, after correction; check that the reference file belongs to "
                    "this target and that its rows and columns are right",
                    file, fit.left_out_median));
  }
  if (!clipped.empty()) {
    fit.warnings.push_back(fmt::format(
        "Patches {} of the target are clipped in {} and were left out; colours as light "
        "or as saturated are uncertain; scan with automatic exposure off and a lower "
        "exposure.",
        fmt::join(clipped, ", "), file));
  }
  for (const std::string& id : dirty) {
    const auto patch = std::find_if(reference.patches.begin(), reference.patches.end(),
                                    [&](const auto& p) { return p.id == id; });
    fit.warnings.push_back(fmt::format(
        "Patch {} of the target in {} is off its reference by ΔE00 {:.1f} while the others agree, "
        "and was left out; it is soiled or faded: clean or replace the target.",
        id, file, best.left_out_dE00[patch - reference.patches.begin()]));
  }
  if (fit.left_out_median > kDoubtfulMedian) {
    fit.doubtful = true;
    fit.warnings.push_back(fmt::format(
        "The target in {} fits its reference only to ΔE00 {:.1f} in the median (left out one by "
        "one; above {:.0f} the colours are doubtful); check that the reference file was measured "
        "on "
        "this target, and that scanning used no automatic correction.",
        file, fit.left_out_median, kDoubtfulMedian));
  }
  return fit;
}

}  // namespace inkwane::target
