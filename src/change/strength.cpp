#include "change/strength.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "change/colour_space.hpp"
#include "colour/strength.hpp"

namespace inkwane::change {
namespace {

constexpr double kClear = 2.5;              // standard uncertainties of the absorption before
constexpr double kHalf95 = 1.96;            // standard deviations either side of 95 %
constexpr Eigen::Index kErrorParts = 1000;  // draws kept for the covariance of several stages

// A place lighter than this in its own channel, relative to the paper, can be a screen; its dots
// are taken as dark as a usual solid. Common practice, no source.
constexpr double kLightestSolid = 0.25, kDot = 0.1;

using Absorptions =
    std::array<Eigen::MatrixXd, 2>;  // before, after; draws × 3, less what lies under

double absorption(double r, InkLaw law) {
  if (law == InkLaw::kubelka_munk) return colour::ks_from_reflectance(r);
  return colour::density(r);
}

Eigen::Vector3d sharp_of(const LabD50& lab) {
  return sharpened(to_xyz(lab));
}

/// Row 0: the measured colours; the rest: the draws.
Absorptions absorptions(const std::array<Eigen::MatrixXd, kParts>& sharp, InkLaw law) {
  Absorptions result;
  for (int stage = 0; stage < 2; ++stage) {
    const auto& place = sharp[static_cast<std::size_t>(place_from + stage)];
    const auto& under = sharp[static_cast<std::size_t>(under_from + stage)];
    result[static_cast<std::size_t>(stage)] = place.unaryExpr([&](double r) {
      return absorption(r, law);
    }) - under.unaryExpr([&](double r) { return absorption(r, law); });
  }
  return result;
}

/// The drawn errors of a share, without their tails (a ratio's are long), and that of the bands.
Eigen::VectorXf error_parts(Eigen::VectorXd drawn, double low, double high, double u_band) {
  drawn = drawn.cwiseMax(low).cwiseMin(high);
  drawn.array() -= drawn.mean();
  Eigen::VectorXf parts(drawn.size() + 1);
  parts << (drawn * ((high - low) / (2 * kHalf95) / drawn.norm())).cast<float>(),
      static_cast<float>(u_band);
  return parts;
}

double spread(const Eigen::VectorXd& v) {
  return std::sqrt((v.array() - v.mean()).square().mean());
}

bool is_clear(const std::array<Eigen::MatrixXd, kParts>& sharp) {
  const Eigen::VectorXd before = absorptions(sharp, InkLaw::film)[0].rowwise().sum();
  return before[0] > kClear * spread(before.tail(before.size() - 1));
}

/// Channels that tell of the share by either law.
std::vector<int> clear_channels(const std::array<Eigen::MatrixXd, kParts>& sharp) {
  std::vector<int> clear{0, 1, 2};
  for (const InkLaw law : kInkLaws) {
    const Eigen::MatrixXd before = absorptions(sharp, law)[0];
    const double strongest = before.row(0).maxCoeff();
    std::erase_if(clear, [&](int c) {
      const double sure = 3 * spread(before.col(c).tail(before.rows() - 1));
      return before(0, c) < std::max(sure, kClearChannel * strongest);
    });
  }
  return clear;
}

LawEstimate estimate(const std::array<Eigen::MatrixXd, kParts>& sharp, InkLaw law,
                     const std::vector<int>& clear) {
  const Absorptions absorption = absorptions(sharp, law);
  const Eigen::Index n = absorption[0].rows() - 1;
  const Eigen::VectorXd before = absorption[0].rowwise().sum(),
                        after = absorption[1].rowwise().sum();
  LawEstimate e;
  const double seen = after[0] / before[0];
  const Eigen::VectorXd drawn = after.tail(n).cwiseQuotient(before.tail(n));
  std::vector<double> shares(drawn.begin(), drawn.end());
  std::sort(shares.begin(), shares.end());
  const auto cut = static_cast<std::size_t>(0.025 * static_cast<double>(n));
  const BandError band = band_error(law, before[0], seen);
  e.value = seen - band.mean;
  // The bands' own error, added to the drawn ends in quadrature.
  const double low = shares[cut], high = shares[shares.size() - 1 - cut];
  e.ci95 = {e.value - std::hypot(seen - low, kHalf95 * band.sd),
            e.value + std::hypot(high - seen, kHalf95 * band.sd)};
  e.errors = error_parts(drawn.head(std::min(n, kErrorParts)), low, high, band.sd);

  const auto k = static_cast<Eigen::Index>(clear.size());
  if (k < 2) return e;
  Eigen::MatrixXd share(n + 1, k);
  Eigen::VectorXd relative(k);
  for (Eigen::Index j = 0; j < k; ++j) {
    const int c = clear[static_cast<std::size_t>(j)];
    share.col(j) = absorption[1].col(c).cwiseQuotient(absorption[0].col(c));
    relative[j] = absorption[0](0, c) / absorption[0].row(0).maxCoeff();
  }
  const Eigen::MatrixXd off = share.bottomRows(n).rowwise() - share.bottomRows(n).colwise().mean();
  e.log_likelihood = channel_log_likelihood(law, share.row(0).transpose(), relative, seen,
                                            off.transpose() * off / static_cast<double>(n));
  return e;
}

}  // namespace

std::optional<Estimates> estimate_share(const Colours& colours) {
  std::array<Eigen::MatrixXd, kParts> sharp;
  for (std::size_t part = 0; part < kParts; ++part) {
    const LabD50& lab = colours.lab[part];
    const Eigen::MatrixXd& errors = colours.errors[part];
    sharp[part].resize(errors.rows() + 1, 3);
    sharp[part].row(0) = sharp_of(lab).transpose();
    for (Eigen::Index i = 0; i < errors.rows(); ++i) {
      sharp[part].row(i + 1) =
          sharp_of({lab.L + errors(i, 0), lab.a + errors(i, 1), lab.b + errors(i, 2)}).transpose();
    }
  }
  // K/S of a dark ink is uncertain where the ink itself is not: density decides.
  if (!is_clear(sharp)) return std::nullopt;
  const std::vector<int> clear = clear_channels(sharp);
  return Estimates{estimate(sharp, InkLaw::kubelka_munk, clear),
                   estimate(sharp, InkLaw::film, clear)};
}

std::optional<double> share_kept_if_screened(const Colours& colours) {
  const Eigen::Vector3d paper_from = sharp_of(colours.lab[under_from]),
                        paper_to = sharp_of(colours.lab[under_to]);
  const Eigen::Vector3d from = sharp_of(colours.lab[place_from]).cwiseQuotient(paper_from);
  const Eigen::Vector3d to = sharp_of(colours.lab[place_to]).cwiseQuotient(paper_to);
  int own = 0;
  if (from.minCoeff(&own) < kLightestSolid) return std::nullopt;
  const double coverage = (1 - from[own]) / (1 - kDot);
  if (coverage <= 0) return std::nullopt;
  const double dot = std::clamp(1 - (1 - to[own]) / coverage, colour::kLeastReflectance, 1.0);
  const double p = paper_from[own], q = paper_to[own];
  const double before = colour::ks_from_reflectance(kDot * p) - colour::ks_from_reflectance(p);
  const double after = colour::ks_from_reflectance(dot * q) - colour::ks_from_reflectance(q);
  return after / before;
}

}  // namespace inkwane::change
