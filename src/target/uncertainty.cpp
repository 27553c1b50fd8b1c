#include "target/uncertainty.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "target/least_squares.hpp"
#include "target/metric.hpp"

namespace inkwane::target {
namespace {

/// Distance in Lab over which what the model cannot follow falls to 1/e: the residuals of 2,871
/// printed patches on one flatbed correlate by .53 at 1.3, .29 at 3, .19 at 5, .05 at 9 (ΔE*ab).
constexpr double kMisfitFade = 4.0;

// Of one place, by what the same patches tell of neighbours that one mixture of inks makes. With
// the part of the fit's parameters and that of two readings of one colour taken off, their errors
// part by .05, .07, .12, .19, .42, .50 of the variance at 2, 3, 5, 7.5, 11 and 17 (ΔE*ab): a Matérn
// correlation of order 3/2 and length 9. Neighbours in the table still differ in the make-up of
// their inks, a fading ink does not, and simulated scanners ask for a tenth of it: a quarter is
// taken for fading (our own judgement).
constexpr double kFadeLength = 9.0, kOfFading = 0.25;
/// … and, as the make-up changes, by .03, .07, .24, .34, .44 and .6 at 0.2°, 0.3°, 0.5°,
/// 0.75°, 1.1° and 2° between the directions of two absorptions: the same correlation, of length
/// 0.65°. Less than the second is what broad bands turn a single ink by.
constexpr double kDegree = std::numbers::pi / 180, kMakeUpLength = 0.65 * kDegree,
                 kOneMakeUp = 0.4 * kDegree;
/// Variance of what the model cannot follow for inks that are not the target's own (metamerism of
/// the scanner), against that for the target's: simulated sheets and scanners asked for 1.6 to 2.
constexpr double kOtherInks = 1.75;

// Without a target: an assumed sRGB curve with the best matrix was off by ΔE00 4.4 in the median
// and 8.8 at p95 on the same patches; three equal components of this size give 4.8 and 8.7. Curve
// and matrix are smooth, so neighbouring colours err alike over a wider distance.
constexpr double kUncalibratedDE00 = 3.1;
constexpr double kUncalibratedFade = 40.0;
/// Drift of an uncontrolled scanner between two days, a component; common practice, no source:
/// a target's neutrals that move by more than 1 call for a correction.
constexpr double kUncalibratedDriftDE00 = 1.0;

/// A colour with what its covariance is made of.
struct Term {
  const ColourAt* at;
  int scan;
  bool calibrated;
  Eigen::Vector3d lab;
  Eigen::Matrix3d unit;      ///< A⁻¹: Lab steps of ΔE00 1
  Eigen::MatrixXd response;  ///< 3 × residuals: how it follows an error of each residual of the fit
  Eigen::MatrixXd shared;    ///< Lab by each error that all scans share, 3 × errors; or none
  double shared_local;       ///< ΔE00 a component, shared between scans at one colour
  double own;                ///< ΔE00 a component, of this scan alone
};

/// Sum of squared differences between two scans' fitted patches, in residual units, and how many
/// degrees of freedom the two fits left them.
std::pair<double, double> differences(const Fit& one, const Fit& two) {
  double squares = 0;
  int patches = 0;
  for (std::size_t i = 0; i < std::min(one.fitted.size(), two.fitted.size()); ++i) {
    if (!one.used[i] || !two.used[i]) continue;
    squares += std::pow(ciede2000(one.fitted[i], two.fitted[i]) / kResidualUnit, 2);
    ++patches;
  }
  const double spent = (one.parameters_spent + two.parameters_spent) / 2;
  return {squares, std::max(3.0 * patches - spent, 1.0)};
}

/// Each scan's own error, in residual units a component: what the target tells from scan to scan,
/// at least the noise of its readings; or what repeat scans showed. It holds what the fit leaves of
/// a drift: on a simulated sheet whose greys drifted by up to 7 the regions moved by 0.7 to 0.8 of
/// what the patches did.
std::vector<double> own_errors(std::span<const Fit* const> scans) {
  std::vector<double> own;
  for (std::size_t i = 0; i < scans.size(); ++i) {
    double squares = 0, freedom = 0;
    for (std::size_t j = 0; j < scans.size(); ++j) {
      if (j == i || !scans[i]->colour.calibrated() || !scans[j]->colour.calibrated()) continue;
      const auto [s, f] = differences(*scans[i], *scans[j]);
      squares += s;
      freedom += 2 * f;  // the difference carries the error of two scans
    }
    const double noise = scans[i]->noise_dE00 / kResidualUnit / std::sqrt(3.0);
    const double told = std::max(freedom > 0 ? std::sqrt(squares / freedom) : 0.0, noise);
    const auto& measured = scans[i]->repeat_dE00;
    own.push_back(measured ? *measured / kResidualUnit : told);
  }
  return own;
}

Term make_term(const Fit& fit, const ColourAt& colour, double own) {
  const ScanColour& scan = fit.colour;
  const LabD50 lab = to_lab(scan.to_xyz(colour.light));
  Term t{&colour,
         colour.scan,
         scan.calibrated(),
         vector_of(lab),
         ciede2000_metric(lab).inverse(),
         {},
         {},
         0,
         0};
  if (scan.calibrated()) {
    t.response = scan.lab_jacobian(colour.light) * scan.estimator();
    t.shared_local = scan.misfit_scale() * kResidualUnit;
    t.own = own * kResidualUnit;
  } else {
    t.shared_local = kUncalibratedDE00;
    t.own = fit.repeat_dE00.value_or(kUncalibratedDriftDE00);
  }
  if (colour.log_errors.cols() > 0) {
    t.shared = scan.lab_by_log_light(colour.light) * colour.log_errors;
    if (fit.parameter_errors.cols() == colour.log_errors.cols())
      t.shared += scan.lab_jacobian(colour.light) * fit.parameter_errors;
  }
  return t;
}

/// Sine of the angle between two absorptions, as far as the weaker one still matters.
double turned(const Eigen::Vector3d& a, const Eigen::Vector3d& b) {
  const double strongest = std::max(a.squaredNorm(), b.squaredNorm());
  return strongest > 0 ? a.cross(b).norm() / strongest : 0;
}

/// Matérn correlation of order 3/2.
double matern(double x) {
  return (1 + x) * std::exp(-x);
}

/// Correlation of what the model cannot follow, times its variance against that of the target's own
/// inks.
double misfit_alike(const Term& a, const Term& b) {
  const double distance = (a.lab - b.lab).norm();
  if (!a.calibrated) return std::exp(-distance / kUncalibratedFade);
  if (a.at->place < 0 || a.at->place != b.at->place) return std::exp(-distance / kMisfitFade);
  const double make_up = std::min(turned(a.at->absorption[0], b.at->absorption[0]),
                                  turned(a.at->absorption[1], b.at->absorption[1]));
  return (kOtherInks - kOfFading + kOfFading * matern(distance / kFadeLength)) *
         matern(std::max(0.0, make_up - kOneMakeUp) / kMakeUpLength);
}

/// Of what is one scan's own.
double own_alike(const Term& a, const Term& b) {
  return std::exp(-(a.lab - b.lab).norm() / (a.calibrated ? kMisfitFade : kUncalibratedFade));
}

Eigen::Matrix3d covariance(const Term& a, const Term& b, std::span<const Fit* const> scans) {
  if (a.calibrated != b.calibrated) return Eigen::Matrix3d::Zero();
  const bool same_scan = a.scan == b.scan;
  const double local = misfit_alike(a, b) * a.shared_local * b.shared_local +
                       (same_scan ? own_alike(a, b) * a.own * b.own : 0.0);
  Eigen::Matrix3d sum = local * a.unit * b.unit.transpose();
  if (a.shared.cols() > 0 && a.shared.cols() == b.shared.cols())
    sum += a.shared * b.shared.transpose();
  if (a.calibrated && a.response.cols() == b.response.cols()) {
    const double sa = scans[a.scan]->colour.misfit_scale();
    const double sb = scans[b.scan]->colour.misfit_scale();
    sum += sa * sb * a.response * b.response.transpose();
    if (same_scan) {
      // A reading's error reaches the parameters through the patches alone, not through the priors.
      const Eigen::Index readings = a.response.cols() - kPriorRows;
      const double own = a.own * b.own / (kResidualUnit * kResidualUnit);
      sum += own * a.response.leftCols(readings) * b.response.leftCols(readings).transpose();
    }
  }
  return sum;
}

}  // namespace

Repeatability repeatability(const Fit& one, const Fit& two) {
  Repeatability result;
  double squares = 0;
  int patches = 0;
  for (std::size_t i = 0; i < std::min(one.fitted.size(), two.fitted.size()); ++i) {
    const double d = ciede2000(one.fitted[i], two.fitted[i]);
    result.patch_dE00.push_back(d);
    if (!one.used[i] || !two.used[i]) continue;
    squares += d * d;
    ++patches;
  }
  result.rms_dE00 = patches > 0 ? std::sqrt(squares / patches) : 0.0;
  return result;
}

Eigen::MatrixXd joint_covariance(std::span<const Fit* const> scans,
                                 std::span<const ColourAt> colours) {
  const std::vector<double> own = own_errors(scans);
  std::vector<Term> terms;
  for (const ColourAt& c : colours) terms.push_back(make_term(*scans[c.scan], c, own[c.scan]));

  const auto count = static_cast<Eigen::Index>(colours.size());
  Eigen::MatrixXd joint(3 * count, 3 * count);
  for (Eigen::Index i = 0; i < count; ++i) {
    for (Eigen::Index j = 0; j <= i; ++j) {
      Eigen::Matrix3d block = covariance(terms[i], terms[j], scans);
      if (i == j) block = (0.5 * (block + block.transpose())).eval();  // rounding
      joint.block<3, 3>(3 * i, 3 * j) = block;
      joint.block<3, 3>(3 * j, 3 * i) = block.transpose();
    }
  }
  return joint;
}

}  // namespace inkwane::target
