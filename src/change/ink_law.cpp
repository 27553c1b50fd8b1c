#include "change/ink_law.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Cholesky>

namespace inkwane::change {
namespace {

// 8,000 made-up inks (one to three absorption bands, peaks 18 to 60 nm wide, edges 6 to 40 nm) on
// aged paper, by both laws, their spectra weighted to sharpened RGB: what is kept is overstated, as
// an ink's strongest wavelengths saturate first, by as much as that varies from ink to ink.
constexpr double kSpreadOfBand = 1.2, kLeastSpreadOfBand = 0.012;
/// Tails of a Student distribution: some inks are odder than others.
constexpr double kFreedom = 4;
/// Bands never agree better than this.
constexpr double kLeastChannelSd = 0.004;
// In the same inks a film's channels hardly ever agree better on Kubelka–Munk, while inks with a
// steep edge in the flank of a channel agree on a film by chance: likelihood ratios of e⁻¹ and e⁻²
// came with odds of e⁻¹·⁵ and e⁻²·⁷, those above e² with odds of e² to e²·⁵.
constexpr double kForKubelkaMunk = 1.4, kLoudestForKubelkaMunk = 4, kLoudestForFilm = 2;
constexpr double kBefore = -2, kSurestAlike = 6, kSurestUnlike = 2;
constexpr double kBeyondDoubt = 2.995732;  // ln 20
constexpr double kMatters = 0.05;          // of the share, between the two laws

/// Mean error of a channel's share, as part of what was lost, in the same inks.
BandError channel_error(InkLaw law, double relative, double kept) {
  const double r = std::clamp(relative, 0.0, 1.0), k = std::clamp(kept, 0.0, 1.0);
  if (law == InkLaw::film) {
    const double mean = 4 * r * (1.03 - r) * (0.005 + 0.06 * k);
    return {(1 - k) * mean, (1 - k) * (0.008 + 1.2 * mean)};
  }
  const double mean = (1.1 - r) * (0.02 + 0.09 * k);
  return {(1 - k) * mean, (1 - k) * (0.012 + 1.2 * mean)};
}

/// Distribution function of a normal distribution whose halves have different widths.
double below(const LawEstimate& e, double x) {
  const double half = x < e.value ? e.value - e.ci95[0] : e.ci95[1] - e.value;
  const double z = 1.959964 * (x - e.value) / std::max(half, 1e-9);
  return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

}  // namespace

BandError band_error(InkLaw law, double strength, double kept) {
  const double k = std::clamp(kept, 0.0, 1.0), form = std::sqrt(k) * (1 - k),
               q = std::max(strength, 0.0);
  const double mean = form * (law == InkLaw::film ? 0.05 / (1 + q / 1.1) : 0.105 / (1 + q / 1.3));
  return {mean, std::hypot(kSpreadOfBand * mean, kLeastSpreadOfBand * (1 - k))};
}

double channel_log_likelihood(InkLaw law, const Eigen::VectorXd& shares,
                              const Eigen::VectorXd& relative, double kept,
                              const Eigen::MatrixXd& covariance) {
  const Eigen::Index n = shares.size();
  Eigen::VectorXd off = shares;
  Eigen::MatrixXd spread = covariance;
  for (Eigen::Index i = 0; i < n; ++i) {
    const BandError band = channel_error(law, relative[i], kept);
    off[i] -= band.mean;
    spread(i, i) += band.sd * band.sd + kLeastChannelSd * kLeastChannelSd;
  }
  const Eigen::LDLT<Eigen::MatrixXd> factor(spread);
  const Eigen::VectorXd one = Eigen::VectorXd::Ones(n), weight = factor.solve(one);
  const double precision = one.dot(weight);
  off.array() -= weight.dot(off) / precision;
  const double chi2 = off.dot(factor.solve(off));
  const auto degrees = static_cast<double>(n - 1);
  return -0.5 * ((kFreedom + degrees) * std::log1p(chi2 / kFreedom) +
                 factor.vectorD().array().log().sum() + std::log(precision));
}

std::optional<double> evidence_of_film(const Estimates& estimates) {
  const auto &km = estimates.kubelka_munk.log_likelihood, &film = estimates.film.log_likelihood;
  if (!km || !film) return std::nullopt;
  const double ratio = *film - *km;
  return ratio < 0 ? std::max(kForKubelkaMunk * ratio, -kLoudestForKubelkaMunk)
                   : std::min(ratio, kLoudestForFilm);
}

double odds_of_film(std::optional<double> own, double alike, double unlike) {
  return kBefore + own.value_or(0) + std::clamp(alike, -kSurestAlike, kSurestAlike) +
         std::clamp(unlike, -kSurestUnlike, kSurestUnlike);
}

std::optional<InkLaw> law_of(double odds) {
  if (std::abs(odds) < kBeyondDoubt) return std::nullopt;
  return odds > 0 ? InkLaw::film : InkLaw::kubelka_munk;
}

SheetLaws laws_of(const SheetEvidence& sheet) {
  const auto law = [](double alike, double unlike) {
    return law_of(odds_of_film(std::nullopt, alike, unlike)).value_or(InkLaw::kubelka_munk);
  };
  return {law(sheet.ink, sheet.added), law(sheet.added, sheet.ink)};
}

Share share_kept(const Estimates& estimates, double odds_of_film) {
  const auto law = law_of(odds_of_film);
  const LawEstimate& one = estimates.by(law.value_or(InkLaw::kubelka_munk));
  if (law) return {one.value, one.ci95, false};
  const LawEstimate &km = estimates.kubelka_munk, &film = estimates.film;
  const double p = 1 / (1 + std::exp(-odds_of_film));
  const auto quantile = [&](double q) {
    double low = std::min(km.ci95[0], film.ci95[0]) - 1,
           high = std::max(km.ci95[1], film.ci95[1]) + 1;
    for (int round = 0; round < 50; ++round) {
      const double middle = 0.5 * (low + high);
      ((1 - p) * below(km, middle) + p * below(film, middle) < q ? low : high) = middle;
    }
    return 0.5 * (low + high);
  };
  return {one.value,
          {std::min(quantile(0.025), one.value), std::max(quantile(0.975), one.value)},
          std::abs(km.value - film.value) > kMatters};
}

}  // namespace inkwane::change
