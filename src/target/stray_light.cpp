#include "target/stray_light.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include <Eigen/Dense>

namespace inkwane::target {
namespace {

using scanner::CoarseLight;
using scanner::kSurround;
using scanner::StrayLightEstimate;

using scanner::kReaches;
using scanner::length_of_reach;

// What else may make patches read too light: light that is added whatever their own colour, and a
// slope of the lamp across the target (from its middle to its edge). Standard deviations.
constexpr double kVeilPrior = 0.02, kVeilLengthMm = 20, kSlopePrior = 0.01;
// Columns of errors: one a reach, then the others.
constexpr int kVeil = kReaches, kSlopeX = kReaches + 1, kSlopeY = kReaches + 2,
              kColumns = kReaches + 3;
constexpr int kNuisances = 3;
/// What the fit cannot follow is alike in patches of one hue, which lie together: on nine simulated
/// charts without stray light κ scattered by 1.5 times what independent errors make.
constexpr double kAlike = 1.5;
/// What is told from scans is corrected where κ is this many of its standard uncertainties; to them
/// is then added what one exponential and a plain sheet leave of real stray light, relative: on six
/// surrounds of one chart, κ told by light paper was off by a third (docs/method.md).
constexpr double kSignificant = 2.5, kContradicts = 3, kModelKappa = 0.25, kModelLength = 0.35;

/// Places within the measured part of each patch: its middle, and half way to its corners.
std::array<Point, 5> places(const Located& located, std::size_t patch) {
  const Point centre = located.centres[patch];
  const double half = located.patch_px / 4;
  return {centre, Point{centre.x - half, centre.y - half}, Point{centre.x + half, centre.y - half},
          Point{centre.x - half, centre.y + half}, Point{centre.x + half, centre.y + half}};
}

/// Mean light in rings about a place, as wide as a coarse cell.
class Rings {
 public:
  Rings(const CoarseLight& seen, Point px) : pitch_mm_(seen.pitch_mm) {
    const double x = (px.x - seen.origin_px.x) / seen.pitch_px,
                 y = (px.y - seen.origin_px.y) / seen.pitch_px;
    const int reach = static_cast<int>(kReachMm / seen.pitch_mm);
    sums_.assign(static_cast<std::size_t>(reach) + 1, Eigen::Vector3d::Zero());
    cells_.assign(sums_.size(), 0);
    for (int j = static_cast<int>(y) - reach; j <= static_cast<int>(y) + reach; ++j) {
      const auto* row = seen.light.ptr<cv::Vec3f>(std::clamp(j, 0, seen.light.rows - 1));
      for (int i = static_cast<int>(x) - reach; i <= static_cast<int>(x) + reach; ++i) {
        const auto ring = static_cast<std::size_t>(std::lround(std::hypot(i - x, j - y)));
        if (ring >= sums_.size()) continue;
        const cv::Vec3f& v = row[std::clamp(i, 0, seen.light.cols - 1)];
        sums_[ring] += Eigen::Vector3f(v[0], v[1], v[2]).cast<double>();
        ++cells_[ring];
      }
    }
  }
  /// t ⊗ h there.
  [[nodiscard]] Eigen::Vector3d lit_by(double length_mm) const {
    Eigen::Vector3d sum = Eigen::Vector3d::Zero();
    double weights = 0;
    for (std::size_t ring = 0; ring < sums_.size(); ++ring) {
      const double weight = std::exp(-static_cast<double>(ring) * pitch_mm_ / length_mm);
      sum += weight * sums_[ring];
      weights += weight * cells_[ring];
    }
    return sum / weights;
  }

 private:
  static constexpr double kReachMm = 65;
  double pitch_mm_;
  std::vector<Eigen::Vector3d> sums_;
  std::vector<int> cells_;
};

/// What each unknown does to ln of the readings, about no stray light at all.
Eigen::MatrixXd by_unknowns(const TargetView& view) {
  const std::size_t patches = view.located->centres.size();
  Point low{std::numeric_limits<double>::infinity(), std::numeric_limits<double>::infinity()};
  Point high{-low.x, -low.y};
  for (const Point& p : view.located->centres) {
    low = {std::min(low.x, p.x), std::min(low.y, p.y)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y)};
  }
  const double half = std::max({high.x - low.x, high.y - low.y, 1.0}) / 2;
  Eigen::MatrixXd errors = Eigen::MatrixXd::Zero(3 * static_cast<Eigen::Index>(patches), kColumns);
  for (std::size_t i = 0; i < patches; ++i) {
    auto rows = errors.middleRows<3>(3 * static_cast<Eigen::Index>(i));
    const auto at = places(*view.located, i);
    for (const Point& place : at) {
      const Rings rings(*view.seen, place);
      for (int r = 0; r < kReaches; ++r) {
        rows.col(r) += (rings.lit_by(length_of_reach(r)).array() - kSurround).matrix() / at.size();
      }
      rows.col(kVeil) += rings.lit_by(kVeilLengthMm) / at.size();
    }
    rows.col(kVeil).array() /= view.readings->patches[i].linear.array().max(1e-3);
    rows.col(kSlopeX).setConstant((view.located->centres[i].x - (low.x + high.x) / 2) / half);
    rows.col(kSlopeY).setConstant((view.located->centres[i].y - (low.y + high.y) / 2) / half);
  }
  return errors;
}

/// Normal equations of all unknowns, means over the scans: their targets err alike, so that more
/// scans make nothing surer.
struct Normal {
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Zero(kColumns, kColumns);
  Eigen::VectorXd fall = Eigen::VectorXd::Zero(kColumns);
  double squares = 0, freedom = 0;
};

Normal normal_of(const Reference& reference, std::span<const TargetView> scans) {
  std::vector<TargetReadings> readings;
  for (const TargetView& view : scans) {
    readings.push_back(*view.readings);
    readings.back().log_errors = by_unknowns(view);
  }
  Normal normal;
  const double share = 1 / static_cast<double>(scans.size());
  for (const Fit& fit : fit_targets(reference, readings)) {
    normal.matrix += share * fit.residual_errors.transpose() * fit.residual_errors;
    normal.fall += share * fit.residual_errors.transpose() * fit.residuals;
    normal.squares += share * fit.residuals.squaredNorm();
    const auto used = static_cast<double>(std::count(fit.used.begin(), fit.used.end(), true));
    normal.freedom += share * (3 * used - fit.parameters_spent);
  }
  return normal;
}

struct AtReach {
  double kappa = 0, variance = 0, cost = 0;
};

/// κ and what else there may be for one reach; `noise`: variance of a residual.
AtReach solve(const Normal& normal, int reach, double noise) {
  const std::array<int, 1 + kNuisances> columns{reach, kVeil, kSlopeX, kSlopeY};
  Eigen::Matrix4d matrix = normal.matrix(columns, columns) / noise;
  matrix(1, 1) += 1 / (kVeilPrior * kVeilPrior);
  matrix(2, 2) += 1 / (kSlopePrior * kSlopePrior);
  matrix(3, 3) += 1 / (kSlopePrior * kSlopePrior);
  const Eigen::Vector4d fall = normal.fall(columns) / noise;
  const Eigen::Matrix4d inverse = matrix.inverse();
  const Eigen::Vector4d found = inverse * fall;
  return {found[0], inverse(0, 0),
          normal.squares / noise - found.dot(fall) + scanner::cost_of_reach(reach)};
}

/// As the patches beside light ones alone say.
StrayLightEstimate tell_by_target(const Reference& reference, std::span<const TargetView> scans) {
  const Normal normal = normal_of(reference, scans);
  // The residuals' variance is what is left at the best reach.
  std::array<AtReach, kReaches> reaches;
  double noise = normal.squares / std::max(1.0, normal.freedom);
  for (int round = 0; round < 3; ++round) {
    double least = std::numeric_limits<double>::infinity();
    for (int r = 0; r < kReaches; ++r) {
      reaches[r] = solve(normal, r, noise);
      least = std::min(least, reaches[r].cost * noise);
    }
    noise = std::max(least, 1e-6) / std::max(1.0, normal.freedom - 1);
  }
  // Mean over the reaches by their likelihood.
  const double best =
      std::min_element(reaches.begin(), reaches.end(), [](const auto& a, const auto& b) {
        return a.cost < b.cost;
      })->cost;
  double weights = 0, kappa = 0, log_length = 0;
  std::array<double, kReaches> weight{};
  for (int r = 0; r < kReaches; ++r) {
    weight[r] = std::exp((best - reaches[r].cost) / 2);
    weights += weight[r];
    kappa += weight[r] * reaches[r].kappa;
    log_length += weight[r] * std::log(length_of_reach(r));
  }
  kappa /= weights, log_length /= weights;
  double kappa2 = 0, log2 = 0, both = 0;
  for (int r = 0; r < kReaches; ++r) {
    const double off = reaches[r].kappa - kappa,
                 log_off = std::log(length_of_reach(r)) - log_length;
    kappa2 += weight[r] / weights * (off * off + reaches[r].variance);
    log2 += weight[r] / weights * log_off * log_off;
    both += weight[r] / weights * off * log_off;
  }
  StrayLightEstimate estimate;
  // About no stray light ln(1 + κ s) − ln(1 + κ r₀) is κ (s − r₀); about κ it is less by 1 + κ r₀.
  const double stretch = 1 / std::max(0.2, 1 - kappa * kSurround);
  estimate.value = {kappa * stretch, std::exp(log_length)};
  estimate.u_kappa = kAlike * std::sqrt(kappa2) * stretch * stretch;
  estimate.u_length_mm = estimate.value.length_mm * std::sqrt(log2);
  estimate.correlation = both / std::sqrt(std::max(kappa2 * log2, 1e-12));
  return estimate;
}

}  // namespace

CoarseLight survey_light(const Located& located, const colour::Linearisation& linearisation,
                         double resolution_dpi) {
  const scan::Survey& survey = located.survey;
  CoarseLight fine;
  fine.light.create(survey.encoded.size(), CV_32FC3);
  const std::size_t values = std::size_t{3} * static_cast<std::size_t>(survey.encoded.cols);
  for (int y = 0; y < survey.encoded.rows; ++y) {
    linearisation.apply({survey.encoded.ptr<std::uint16_t>(y), values},
                        {fine.light.ptr<float>(y), values});
  }
  constexpr double kMmPerInch = 25.4;
  fine.pitch_px = survey.factor;
  fine.pitch_mm = survey.factor * kMmPerInch / resolution_dpi;
  fine.origin_px = survey.to_scan({0, 0});
  return fine;
}

void correct(TargetReadings& readings, const scanner::Correction& correction,
             const Located& located) {
  for (std::size_t i = 0; i < readings.patches.size(); ++i) {
    Eigen::Array3d share = Eigen::Array3d::Zero();
    Eigen::MatrixXd errors;
    const auto at = places(located, i);
    for (const Point& place : at) {
      share += (-correction.log_gain(place)).array().exp() / at.size();
      const Eigen::Matrix3Xd here = correction.log_errors(place) / at.size();
      errors = errors.size() == 0 ? Eigen::MatrixXd(here) : Eigen::MatrixXd(errors + here);
    }
    PatchReading& reading = readings.patches[i];
    reading.linear.array() *= share;
    reading.standard_error.array() *= share;
    reading.spread.array() *= share;
    if (i == 0) readings.log_errors.resize(3 * readings.patches.size(), errors.cols());
    readings.log_errors.middleRows<3>(3 * static_cast<Eigen::Index>(i)) = errors;
  }
}

StrayLightTold tell_stray_light(const Reference& reference, std::span<const TargetView> scans) {
  std::vector<scanner::PaperEvidence> papers;
  for (const TargetView& view : scans) papers.push_back(*view.paper);
  std::vector<StrayLightEstimate> witnesses{tell_by_target(reference, scans)};
  if (const auto paper = scanner::tell_by_paper(papers)) witnesses.push_back(*paper);

  double weights = 0, kappa = 0, log_length = 0;
  for (const StrayLightEstimate& one : witnesses) {
    const double weight = 1 / (one.u_kappa * one.u_kappa);
    weights += weight;
    kappa += weight * one.value.kappa;
    log_length += weight * std::log(one.value.length_mm);
  }
  kappa /= weights;
  const double u = 1 / std::sqrt(weights);
  const bool agree = std::all_of(witnesses.begin(), witnesses.end(), [&](const auto& one) {
    return std::abs(one.value.kappa - kappa) < kContradicts * one.u_kappa;
  });

  StrayLightTold told;
  told.significant = agree && kappa > kSignificant * u;
  StrayLightEstimate& estimate = told.estimate;
  if (told.significant) {
    estimate.value = {std::min(kappa, scanner::kMostKappa), std::exp(log_length / weights)};
    estimate.u_kappa = std::hypot(u, kModelKappa * kappa);
    estimate.u_length_mm = kModelLength * estimate.value.length_mm;
  } else {
    estimate.value = {0, scanner::kTypical.length_mm};
    estimate.u_kappa = std::min(scanner::kTypical.kappa, std::hypot(std::max(kappa, 0.0), u));
  }
  return told;
}

}  // namespace inkwane::target
