#include "course/pool.hpp"

#include <algorithm>

#include <Eigen/Eigenvalues>

namespace inkwane::course {
namespace {

using change::JointShares;
using change::ShareSeries;

const JointShares& read_as(const ShareSeries& series, Reading reading) {
  if (reading == Reading::film && series.film) return *series.film;
  if (reading == Reading::screened && series.screened) return *series.screened;
  return series.believed;
}

std::vector<Eigen::Index> places(const ShareSeries& series, std::span<const std::string> stages) {
  std::vector<Eigen::Index> out;
  for (const std::string& stage : stages) {
    const auto at = std::find(series.stages.begin(), series.stages.end(), stage);
    if (at != series.stages.end()) out.push_back(at - series.stages.begin());
  }
  return out;
}

/// Symmetric root; what rounding made negative counts as zero.
Eigen::MatrixXd root(const Eigen::MatrixXd& covariance) {
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(covariance);
  return solver.eigenvectors() * solver.eigenvalues().cwiseMax(0).cwiseSqrt().asDiagonal() *
         solver.eigenvectors().transpose();
}

}  // namespace

JointShares shares_at(const ShareSeries& series, Reading reading,
                      std::span<const std::string> stages) {
  const JointShares& all = read_as(series, reading);
  const std::vector<Eigen::Index> at = places(series, stages);
  return {all.value(at), all.covariance(at, at)};
}

std::vector<Reading> readings_of(std::span<const ShareSeries* const> series) {
  std::vector<Reading> out{Reading::believed};
  const auto any = [&series](std::optional<JointShares> ShareSeries::*other) {
    return std::any_of(series.begin(), series.end(),
                       [other](const ShareSeries* one) { return (one->*other).has_value(); });
  };
  if (any(&ShareSeries::film)) out.push_back(Reading::film);
  if (any(&ShareSeries::screened)) out.push_back(Reading::screened);
  return out;
}

bool has_all(const ShareSeries& series, std::span<const std::string> stages) {
  return places(series, stages).size() == stages.size();
}

bool Pool::knows(std::span<const std::string> stages) const {
  return !members.empty() && std::all_of(members.begin(), members.end(), [&](const auto* member) {
    return has_all(*member, stages);
  });
}

JointShares Pool::mean(Reading reading, std::span<const std::string> stages) const {
  const auto n = static_cast<Eigen::Index>(stages.size());
  JointShares out{Eigen::VectorXd::Zero(n), {}};
  Eigen::MatrixXd spread = Eigen::MatrixXd::Zero(n, n);
  for (std::size_t i = 0; i < members.size(); ++i) {
    const JointShares one = shares_at(*members[i], reading, stages);
    out.value += weights[i] * one.value;
    spread += weights[i] * root(one.covariance);
  }
  out.covariance = spread * spread;
  return out;
}

Pool pool(const std::vector<ShareSeries>& series, Role role, const std::string& first,
          std::span<const std::string> stages) {
  Pool out;
  double area = 0;
  for (const ShareSeries& one : series) {
    if (one.role != role || one.first != first || !has_all(one, stages)) continue;
    out.members.push_back(&one);
    out.weights.push_back(one.area_mm2);
    area += one.area_mm2;
  }
  for (double& weight : out.weights) weight /= area;
  return out;
}

}  // namespace inkwane::course
