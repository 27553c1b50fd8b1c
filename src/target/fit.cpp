#include "target/fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <inkwane/error.hpp>

#include "target/ladder.hpp"
#include "target/metric.hpp"

namespace inkwane::target {
namespace {

/// Share of clipped pixels above which a patch's mean says nothing sure of its colour.
constexpr double kClippedShare = 0.02;
/// One patch in so many may be left out as soiled.
constexpr int kPatchesPerSoiled = 12;
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

/// Encoded value that a rising table of linear ones turns into `linear`.
double encoded_of(const std::vector<float>& table, double linear) {
  const auto above = std::lower_bound(table.begin() + 1, table.end() - 1, linear);
  const double low = static_cast<double>(*(above - 1)), high = static_cast<double>(*above);
  const double part = high > low ? std::clamp((linear - low) / (high - low), 0.0, 1.0) : 0.0;
  return (static_cast<double>(above - 1 - table.begin()) + part) /
         static_cast<double>(table.size() - 1);
}

/// One scan on its way to a fit.
class Work {
 public:
  Work(const Reference& reference, const TargetReadings& scan)
      : reference_(reference),
        scan_(scan),
        // Without a profile a plain power of the encoded value is the safer guess in the darks:
        // sRGB's own curve is followed by it nearly as well as by itself, other curves better.
        linearisation_(scan.linearisation.tone_known() ? scan.linearisation
                                                       : colour::Linearisation::identity()),
        starts_(scan.linearisation.tone_known() ? std::vector<double>{1.0}
                                                : std::vector<double>{1.4, 1.8, 2.2}) {
    for (std::size_t i = 0; i < reference.patches.size(); ++i) {
      const PatchReading& reading = scan.patches[i];
      patches_.reference.push_back(reference.patches[i].lab);
      patches_.linear.push_back(before_tone(reading.linear));
      patches_.metric.push_back(ciede2000_metric(reference.patches[i].lab));
      const bool clipped = reading.usable && reading.clipped > kClippedShare;
      used_.push_back(reading.usable && !clipped);
      if (clipped) clipped_.push_back(reference.patches[i].id);
    }
    if (count(used_) < kFewestPatches[0]) {
      throw Error(ExitCode::scan,
                  fmt::format("{}: only {} patches of the target can be used, the others are "
                              "clipped or soiled; scan again with automatic exposure off and a "
                              "lower exposure",
                              scan.file, count(used_)));
    }
    find_soiled();
  }

  [[nodiscard]] const std::vector<bool>& used() const { return used_; }
  [[nodiscard]] const Ladder& ladder() const { return ladder_; }

  void use_only(const std::vector<bool>& common) {
    if (common == used_) return;
    used_ = common;
    ladder_ = climb(patches_, used_, starts_);
  }

  [[nodiscard]] Fit finish(const Candidate& chosen) const;

 private:
  void find_soiled() {
    ladder_ = climb(patches_, used_, starts_);
    int allowed = std::max(1, patches_.size() / kPatchesPerSoiled);
    for (; allowed > 0 && count(used_) > kFewestPatches[0]; --allowed) {
      const auto best = best_of(ladder_);
      const auto patch = best ? soiled_patch(*best, used_) : std::nullopt;
      if (!patch) return;
      used_[*patch] = false;
      soiled_.push_back(*patch);
      ladder_ = climb(patches_, used_, starts_);
    }
  }

  [[nodiscard]] Eigen::Vector3d before_tone(Eigen::Vector3d linear) const {
    if (scan_.linearisation.tone_known()) return linear;
    for (int c = 0; c < 3; ++c) {
      linear[c] = encoded_of(scan_.linearisation.tables()[c], linear[c]);
    }
    return linear;
  }

  [[nodiscard]] LabD50 lab_of(const Fit& fit, const Eigen::Vector3d& linear) const {
    return to_lab(fit.colour.to_xyz(fit.colour.light_of(before_tone(linear))));
  }

  /// rms colour difference that the readings' own standard errors make.
  [[nodiscard]] double noise(const Fit& fit) const {
    double squares = 0;
    for (std::size_t i = 0; i < used_.size(); ++i) {
      if (!used_[i]) continue;
      for (int c = 0; c < 3; ++c) {
        Eigen::Vector3d shifted = scan_.patches[i].linear;
        shifted[c] += scan_.patches[i].standard_error[c];
        squares += std::pow(ciede2000(fit.fitted[i], lab_of(fit, shifted)), 2);
      }
    }
    return std::sqrt(squares / count(used_));
  }

  void follow_errors(const LeastSquares& problem, const Parameters& parameters,
                     const Eigen::MatrixXd& estimator, Fit& fit) const;
  void warn(Fit& fit) const;

  const Reference& reference_;
  const TargetReadings& scan_;
  colour::Linearisation linearisation_;
  std::vector<double> starts_;
  PatchData patches_;
  std::vector<bool> used_;
  std::vector<std::string> clipped_;
  std::vector<int> soiled_;
  Ladder ladder_;
};

Fit Work::finish(const Candidate& chosen) const {
  const LeastSquares problem(patches_, used_, chosen.rung, chosen.start_gamma);
  const Eigen::MatrixXd estimator = problem.estimator(chosen.parameters);
  Fit fit(
      ScanColour(linearisation_, chosen.rung, chosen.parameters, estimator, chosen.misfit_scale));
  fit.left_out_dE00 = chosen.left_out_dE00;
  fit.used = used_;
  const int rows = 3 * patches_.size();
  fit.parameters_spent =
      (problem.jacobian(chosen.parameters).topRows(rows) * estimator.leftCols(rows)).trace();
  std::vector<double> left_out;
  for (int i = 0; i < patches_.size(); ++i) {
    fit.fitted.push_back(problem.predict(chosen.parameters, i));
    if (used_[i]) left_out.push_back(chosen.left_out_dE00[i]);
  }
  fit.noise_dE00 = noise(fit);
  follow_errors(problem, chosen.parameters, estimator, fit);
  fit.left_out_median = quantile(left_out, 0.5);
  fit.left_out_p95 = quantile(left_out, 0.95);
  fit.left_out_max = quantile(left_out, 1.0);
  if (fit.left_out_median > kHopelessMedian) {
    throw Error(ExitCode::scan,
                fmt::format("{}: the target's patches are off their reference by ΔE00 {:.1f} in "
                            "the median, after correction; check that the reference file belongs "
                            "to this target and that its rows and columns are right",
                            scan_.file, fit.left_out_median));
  }
  warn(fit);
  return fit;
}

void Work::follow_errors(const LeastSquares& problem, const Parameters& parameters,
                         const Eigen::MatrixXd& estimator, Fit& fit) const {
  constexpr double kStep = 1e-3;  // of ln linear
  fit.residuals = problem.residuals(parameters);
  Eigen::MatrixXd errors = Eigen::MatrixXd::Zero(fit.residuals.size(), scan_.log_errors.cols());
  for (int i = 0; i < patches_.size() && errors.cols() > 0; ++i) {
    if (!used_[i]) continue;
    const Eigen::Vector3d& linear = scan_.patches[i].linear;
    Eigen::Matrix3d by_log;  // ∂ Lab / ∂ ln linear
    for (int c = 0; c < 3; ++c) {
      Eigen::Vector3d more = linear, less = linear;
      more[c] *= std::exp(kStep), less[c] *= std::exp(-kStep);
      by_log.col(c) = (vector_of(lab_of(fit, more)) - vector_of(lab_of(fit, less))) / (2 * kStep);
    }
    errors.middleRows<3>(3 * i) =
        patches_.metric[i] * by_log * scan_.log_errors.middleRows<3>(3 * i) / kResidualUnit;
  }
  fit.parameter_errors = -estimator * errors;
  fit.residual_errors = errors + problem.jacobian(parameters) * fit.parameter_errors;
}

void Work::warn(Fit& fit) const {
  if (!clipped_.empty()) {
    fit.warnings.push_back(fmt::format(
        "Patches {} of the target are clipped and were left out; colours as light or as saturated "
        "are uncertain; scan with automatic exposure off and a lower exposure.",
        fmt::join(clipped_, ", ")));
  }
  for (const int patch : soiled_) {
    fit.warnings.push_back(fmt::format(
        "Patch {} of the target is off its reference by ΔE00 {:.1f} while the others agree, and "
        "was left out; it is soiled or faded: clean or replace the target.",
        reference_.patches[patch].id, fit.left_out_dE00[patch]));
  }
  if (fit.left_out_median > kDoubtfulMedian) {
    fit.doubtful = true;
    fit.warnings.push_back(fmt::format(
        "The target fits its reference only to ΔE00 {:.1f} in the median, left out one by one; "
        "above {:.0f} the colours are doubtful; check that the reference was measured on this "
        "target and that scanning used no automatic correction.",
        fit.left_out_median, kDoubtfulMedian));
  }
}

/// The rung that leaves least over all scans; −1 if none is on every ladder.
int common_rung(const std::vector<Work>& scans) {
  int best = -1;
  double least = std::numeric_limits<double>::infinity();
  for (int rung = 0; rung < kRungs; ++rung) {
    double squares = 0;
    for (const Work& scan : scans) {
      const auto& candidate = scan.ladder()[rung];
      squares += candidate ? candidate->left_out_rms * candidate->left_out_rms
                           : std::numeric_limits<double>::infinity();
    }
    if (squares < least) {
      least = squares;
      best = rung;
    }
  }
  return best;
}

}  // namespace

std::vector<Fit> fit_targets(const Reference& reference, std::span<const TargetReadings> scans) {
  std::vector<Work> work;
  for (const TargetReadings& scan : scans) work.emplace_back(reference, scan);

  // A patch that one scan cannot use would pull that scan's fit alone; so no scan uses it, as long
  // as enough are left.
  std::vector<bool> common(reference.patches.size(), true);
  for (const Work& scan : work) {
    for (std::size_t i = 0; i < common.size(); ++i) common[i] = common[i] && scan.used()[i];
  }
  if (4 * count(common) >= 3 * static_cast<int>(common.size())) {
    for (Work& scan : work) scan.use_only(common);
  }

  const int rung = common_rung(work);
  std::vector<Fit> fits;
  for (std::size_t i = 0; i < work.size(); ++i) {
    const auto best = rung >= 0 ? work[i].ladder()[rung] : best_of(work[i].ladder());
    if (!best) {
      throw Error(ExitCode::scan,
                  fmt::format("{}: no correction fits the target's patches to their reference; "
                              "check that the reference file belongs to this target",
                              scans[i].file));
    }
    fits.push_back(work[i].finish(*best));
  }
  return fits;
}

Fit fit_target(const Reference& reference, const std::vector<PatchReading>& readings,
               const colour::Linearisation& linearisation, const std::string& file) {
  const TargetReadings scan{readings, linearisation, file};
  return fit_targets(reference, {&scan, 1}).front();
}

}  // namespace inkwane::target
