#include "change/screen_share.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

namespace inkwane::change {
namespace {

constexpr double kCoverageSure = 0.01, kCoverageUnsure = 0.08;  // of a good fit and of a bad one
/// Of the mean against the paper, each stage: paper is uneven from place to place. On simulated
/// screens .005 made intervals 3.6 times as wide as the errors at the 95th percentile.
constexpr double kPaperSure = 0.003;
constexpr double kTwoScreens = 0.015;
constexpr double kRoundness = 0.08;  // ln of the two directions' ratio: less is a round dot
constexpr double kFlattest = 0.3;    // aspect of an elliptical dot
constexpr double kLeastTransfer = 0.2, kPoorTransfer = 0.4;
constexpr double kLeastPeriods = 8;
constexpr double kMuchClipped = 0.01;
constexpr double kSharpened = 0.012;     // overshoot at edges; of unsharpened simulated scans 0.001
constexpr double kDarkerBetween = 0.04;  // of the background, between two stages
constexpr double kHalf95 = 1.96;         // standard deviations either side of 95 %

using Eigen::Vector3d;

double least_transfer(const ScreenStage& stage) {
  double least = 1;
  for (const Peaks& p : stage.reading.peaks)
    least = std::min({least, p.transfer[0], p.transfer[1]});
  return least;
}

/// |ln| of a peak's amplitudes along its two directions.
double unlike_directions(const Peaks& peaks) {
  int own = 0;
  (peaks.amplitude[0] + peaks.amplitude[1]).maxCoeff(&own);
  const double a = std::max(peaks.amplitude[0][own], 1e-6),
               b = std::max(peaks.amplitude[1][own], 1e-6);
  return std::abs(std::log(a / b));
}

}  // namespace

/// Strength of every ink before and after, a channel.
struct ScreenModel::Kept {
  std::array<std::vector<Vector3d>, 2> dots;  // [before, after][lattice]
  std::array<double, 2> under{0, 0};          // of a solid that lies under the screens
  std::array<Vector3d, 2> background;         // against the paper
  std::vector<double> coverage;
  bool saturated = false;

  Kept(const ScreenStage& from, const ScreenStage& to, const ScreenFit& fit,
       const std::vector<double>& coverages)
      : coverage(coverages) {
    for (std::size_t s = 0; s < 2; ++s) {
      const ScreenStage& stage = s == 0 ? from : to;
      const Dots found = fit.dots(stage, coverages);
      saturated = saturated || found.saturated;
      background[s] = found.background;
      const Vector3d between = found.background.cwiseProduct(stage.paper);
      for (const Vector3d& u : found.absorbed) {
        const Vector3d dot = between.array() * (1 - u.array()).square();
        dots[s].push_back(ink_strength(fit.setting().law, between, dot));
      }
      if (fit.over_solid) under[s] = ink_strength(fit.setting().law, stage.paper, between).sum();
    }
  }
  [[nodiscard]] double share() const {
    std::array<double, 2> sum = under;
    for (std::size_t s = 0; s < 2; ++s) {
      for (std::size_t j = 0; j < coverage.size(); ++j) sum[s] += coverage[j] * dots[s][j].sum();
    }
    return sum[1] / sum[0];
  }
  /// Σ over the channels of the strongest of the inks before.
  [[nodiscard]] double strength() const {
    double most = 0;
    for (const Vector3d& dot : dots[0]) most = std::max(most, dot.sum());
    return most;
  }
  /// Of the first ink.
  [[nodiscard]] Vector3d channel_shares() const {
    return dots[1].front().cwiseQuotient(dots[0].front());
  }
};

ScreenModel::ScreenModel(const ScreenStage& first, const std::vector<double>& period_mm,
                         const LightSpread& spread, const ScreenSheet& sheet) {
  ScreenSetting plain;
  plain.spread_mm = spread.mm;
  plain.aspect.assign(period_mm.size(), 1);
  const ScreenFit round(first, period_mm, plain, sheet);
  for (std::size_t j = 0; j < period_mm.size(); ++j) {
    const double wanted = unlike_directions(first.reading.peaks[j]);
    if (wanted < kRoundness) continue;
    double low = kFlattest, high = 1;  // the flatter the ellipse, the more unequal its directions
    for (int i = 0; i < 10; ++i) {
      const double middle = (low + high) / 2;
      const CellTable table(spread.mm / period_mm[j], DotForm::cosines, middle);
      const double here = std::abs(std::log(table.at(round.coverage[j]).along));
      (here > wanted ? low : high) = middle;
    }
    plain.aspect[j] = (low + high) / 2;
  }
  ScreenSetting spread_more = plain, sharper = plain, rounder = plain;
  spread_more.spread_mm += spread.u_mm;
  sharper.sharper = 1;
  rounder.form = DotForm::round;
  for (const InkLaw law : kInkLaws) {
    OfLaw& out = laws_[static_cast<std::size_t>(law)];
    for (ScreenSetting setting : {plain, spread_more, sharper, rounder}) {
      setting.law = law;
      out.fits.emplace_back(first, period_mm, setting, sheet);
    }
    const ScreenFit& fit = out.fits.front();
    out.u_coverage = fit.u_coverage(first, sheet);
    for (double& u : out.u_coverage) u = std::max(u, fit.bad() ? kCoverageUnsure : kCoverageSure);
  }
}

LawEstimate ScreenModel::estimate(const ScreenStage& from, const ScreenStage& to,
                                  InkLaw law) const {
  const ScreenFit& fit = believed(law);
  const Kept kept(from, to, fit, fit.coverage);
  const std::size_t n = fit.coverage.size();

  LawEstimate result;
  const double seen = kept.share();
  double variance = n > 1 ? kTwoScreens * kTwoScreens : 0;
  Eigen::Matrix3d covariance = variance * Eigen::Matrix3d::Identity();  // of the channels' shares
  std::vector<double> lasting{std::sqrt(variance)};  // errors alike at every later stage
  const auto add = [&](const Kept& other, bool lasts) {
    const double off = other.share() - seen;
    variance += off * off;
    if (lasts) lasting.push_back(off);
    const Vector3d of_channels = other.channel_shares() - kept.channel_shares();
    covariance += of_channels * of_channels.transpose();
  };
  const std::vector<ScreenFit>& fits = of(law).fits;
  for (auto other = fits.begin() + 1; other != fits.end(); ++other)
    add(Kept(from, to, *other, other->coverage), true);
  for (std::size_t j = 0; j < n; ++j) {
    std::vector<double> coverage = fit.coverage;
    coverage[j] = std::clamp(coverage[j] + of(law).u_coverage[j], kLeastCoverage, kMostCoverage);
    add(Kept(from, to, fit, coverage), true);
  }
  for (std::size_t s = 0; s < 2; ++s) {
    for (int c = 0; c < 3; ++c) {
      std::array<ScreenStage, 2> moved{from, to};
      moved[s].reading.mean[c] *= 1 + kPaperSure;
      add(Kept(moved[0], moved[1], fit, fit.coverage), s == 0);
      for (std::size_t j = 0; j < n; ++j) {
        moved = {from, to};
        Peaks& peaks = moved[s].reading.peaks[j];
        for (std::size_t d = 0; d < 2; ++d) peaks.amplitude[d][c] += peaks.u_amplitude[d][c];
        add(Kept(moved[0], moved[1], fit, fit.coverage), s == 0);
      }
    }
  }
  const BandError band = band_error(law, kept.strength(), seen);
  result.value = seen - band.mean;
  const double half = kHalf95 * std::sqrt(variance + band.sd * band.sd);
  result.ci95 = {result.value - half, result.value + half};
  lasting.push_back(band.sd);
  result.errors =
      Eigen::Map<Eigen::VectorXd>(lasting.data(), static_cast<Eigen::Index>(lasting.size()))
          .cast<float>();

  // Of two screens, what one takes from the other in a channel looks like a disagreement.
  if (n > 1) return result;
  std::vector<int> clear;
  const Vector3d& before = kept.dots[0][0];
  for (int c = 0; c < 3; ++c) {
    if (before[c] > kClearChannel * before.maxCoeff()) clear.push_back(c);
  }
  if (clear.size() > 1) {
    result.log_likelihood =
        channel_log_likelihood(law, kept.channel_shares()(clear), before(clear) / before.maxCoeff(),
                               seen, covariance(clear, clear));
  }
  return result;
}

ScreenVerdict ScreenModel::kept(const ScreenStage& from, const ScreenStage& to) const {
  ScreenVerdict verdict;
  const auto refuse = [&verdict](const std::string& why) {
    verdict.warnings.push_back(why);
    return verdict;
  };
  if (std::max(from.reading.clipped, to.reading.clipped) > kMuchClipped) {
    return refuse(
        "More than 1 % of the screen's pixels are clipped, so its dots could not be measured; scan "
        "with automatic exposure off.");
  }
  if (std::max(from.overshoot, to.overshoot) > kSharpened) {
    return refuse(
        "The scan was sharpened, which alters the screen's dots, so its strength could not be "
        "measured; scan with sharpening off.");
  }
  const double least = std::min(least_transfer(from), least_transfer(to));
  if (least < kLeastTransfer) {
    return refuse(
        "The screen's dots are too fine for this scan, so its strength could not be measured; scan "
        "at 600 dpi or more.");
  }
  if (std::min(from.reading.periods, to.reading.periods) < kLeastPeriods) {
    return refuse(fmt::format(
        "The region is smaller than {:.0f} rows of the screen's dots, so its strength could not be "
        "measured; mark a larger one.",
        kLeastPeriods));
  }
  const ScreenFit& fit = believed(InkLaw::kubelka_munk);
  const Kept plain(from, to, fit, fit.coverage);
  if (plain.saturated) {
    return refuse(
        "The screen stands out more than black dots would make it, so its strength could not be "
        "measured; check that the scan was not sharpened.");
  }
  verdict.estimates =
      Estimates{estimate(from, to, InkLaw::kubelka_munk), estimate(from, to, InkLaw::film)};
  if (least < kPoorTransfer) {
    verdict.warnings.emplace_back(
        "The screen's dots are fine for this scan and its strength is less sure for it; scan at "
        "600 "
        "dpi or more.");
  }
  if (fit.bad()) {
    verdict.warnings.emplace_back(
        "What lies between the screen's dots is neither the paper beside it nor a solid that has a "
        "region, so the size of its dots is less sure; name the solid under it as a region of role "
        "ink.");
  }
  const double darker = 1 - plain.background[1].cwiseQuotient(plain.background[0]).mean();
  if (std::abs(darker) > kDarkerBetween) {
    verdict.warnings.push_back(fmt::format(
        "Between the dots it became {:.0f} % {} than the paper beside; ink that spread, a stain or "
        "a scan out of focus would look like this.",
        100 * std::abs(darker), darker > 0 ? "darker" : "lighter"));
  }
  return verdict;
}

}  // namespace inkwane::change
