#include "target/least_squares.hpp"

#include <cmath>
#include <utility>

#include <Eigen/Dense>
#include <unsupported/Eigen/NonLinearOptimization>

#include "target/metric.hpp"

namespace inkwane::target {
namespace {

// Standard deviations of the priors (docs/method.md, "Target fit"): found on 2,871 printed patches
// read by one flatbed and measured with a spectrophotometer.
constexpr double kGammaAboutStart = 0.5, kGammaAboutMean = 0.03;
constexpr double kBetaAboutZero = 0.1, kBetaAboutMean = 0.01;
constexpr double kOffsetAboutZero = 0.002;
constexpr double kNonLinear = 1.0;

/// The priors are linear in the parameters: residual = P p − P₀, this is P.
Eigen::MatrixXd prior_matrix() {
  Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(kPriorRows, kParameters);
  for (int c = 0; c < 3; ++c) {
    rows(c, kGamma + c) = 1 / kGammaAboutStart;
    rows(6 + c, kBeta + c) = 1 / kBetaAboutZero;
    for (int d = 0; d < 3; ++d) {
      const double about_mean = (c == d ? 1.0 : 0.0) - 1.0 / 3;
      rows(3 + c, kGamma + d) = about_mean / kGammaAboutMean;
      rows(9 + c, kBeta + d) = about_mean / kBetaAboutMean;
    }
    rows(12 + c, kOffset + c) = 1 / kOffsetAboutZero;
    for (int k = 3; k < kTerms; ++k) {
      rows(15 + c * (kTerms - 3) + k - 3, kMixing + c * kTerms + k) = 1 / kNonLinear;
    }
  }
  return rows;
}

const Eigen::MatrixXd& priors() {
  static const Eigen::MatrixXd rows = prior_matrix();
  return rows;
}

/// What Eigen's Levenberg–Marquardt wants to be given.
struct Functor {
  const LeastSquares& problem;
  Parameters base;

  [[nodiscard]] Parameters full(const Eigen::VectorXd& x) const {
    Parameters p = base;
    for (std::size_t i = 0; i < problem.free().size(); ++i) p[problem.free()[i]] = x[i];
    return p;
  }
  [[nodiscard]] int values() const { return static_cast<int>(problem.residuals(base).size()); }
  int operator()(const Eigen::VectorXd& x, Eigen::VectorXd& residuals) const {
    residuals = problem.residuals(full(x));
    return 0;
  }
  int df(const Eigen::VectorXd& x, Eigen::MatrixXd& jacobian) const {
    const Eigen::MatrixXd all = problem.jacobian(full(x));
    for (std::size_t i = 0; i < problem.free().size(); ++i) {
      jacobian.col(i) = all.col(problem.free()[i]);
    }
    return 0;
  }
};

}  // namespace

LeastSquares::LeastSquares(const PatchData& patches, std::vector<bool> used, Rung rung,
                           double start_gamma)
    : patches_(&patches),
      used_(std::move(used)),
      rung_(rung),
      start_gamma_(start_gamma),
      free_(free_parameters(rung)) {
  for (const auto& v : patches.linear) {
    log_v_.push_back(v.cwiseMax(kLeastLight).array().log().matrix());
  }
}

Eigen::Vector3d LeastSquares::light(const Parameters& p, int patch) const {
  Eigen::Vector3d t;
  for (int c = 0; c < 3; ++c) t[c] = tone(p, c, patches_->linear[patch][c]);
  return t;
}

LabD50 LeastSquares::predict(const Parameters& p, int patch) const {
  return to_lab(mix(p, light(p, patch)));
}

Eigen::Vector3d LeastSquares::patch_residual(const Parameters& p, int patch) const {
  return patches_->metric[patch] *
         (vector_of(predict(p, patch)) - vector_of(patches_->reference[patch])) / kResidualUnit;
}

Jacobian LeastSquares::patch_jacobian(const Parameters& p, int patch) const {
  return patches_->metric[patch] * lab_by_parameters(p, light(p, patch), log_v_[patch]) /
         kResidualUnit;
}

Eigen::VectorXd LeastSquares::residuals(const Parameters& p) const {
  const int n = patches_->size();
  Eigen::VectorXd r = Eigen::VectorXd::Zero(3 * n + kPriorRows);
  for (int i = 0; i < n; ++i) {
    if (used_[i]) r.segment<3>(3 * i) = patch_residual(p, i);
  }
  r.tail(kPriorRows) = priors() * p;
  for (int c = 0; c < 3; ++c) r[3 * n + c] -= start_gamma_ / kGammaAboutStart;
  return r;
}

Eigen::MatrixXd LeastSquares::jacobian(const Parameters& p) const {
  const int n = patches_->size();
  Eigen::MatrixXd j = Eigen::MatrixXd::Zero(3 * n + kPriorRows, kParameters);
  for (int i = 0; i < n; ++i) {
    if (used_[i]) j.middleRows<3>(3 * i) = patch_jacobian(p, i);
  }
  j.bottomRows(kPriorRows) = priors();
  Eigen::VectorXd is_free = Eigen::VectorXd::Zero(kParameters);
  for (const int f : free_) is_free[f] = 1;
  return j * is_free.asDiagonal();
}

Eigen::MatrixXd LeastSquares::estimator(const Parameters& p) const {
  const Eigen::MatrixXd all = jacobian(p);
  const Eigen::MatrixXd j = all(Eigen::all, free_);
  const Eigen::MatrixXd some = (j.transpose() * j).ldlt().solve(j.transpose());
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(kParameters, all.rows());
  for (std::size_t i = 0; i < free_.size(); ++i) result.row(free_[i]) = some.row(i);
  return result;
}

Parameters LeastSquares::start() const {
  Parameters p = Parameters::Zero();
  p.segment<3>(kGamma).setConstant(start_gamma_);
  std::vector<int> linear;  // in which XYZ is linear: offsets and mixing
  for (const int f : free_) {
    if (f >= kOffset) linear.push_back(f);
  }
  const int n = patches_->size();
  Eigen::MatrixXd a = Eigen::MatrixXd::Zero(3 * n + kPriorRows, kParameters);
  Eigen::VectorXd y = Eigen::VectorXd::Zero(a.rows());
  for (int i = 0; i < n; ++i) {
    if (!used_[i]) continue;
    const XyzD50 xyz = to_xyz(patches_->reference[i]);
    const Eigen::Matrix3d weight =
        patches_->metric[i] * lab_by_xyz(xyz) * vector_of(kWhiteD50).asDiagonal() / kResidualUnit;
    const Terms phi = terms(light(p, i));
    Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(3, kParameters);
    for (int k = 0; k < 3; ++k) {
      rows(k, kOffset + k) = 1;
      rows.block<1, kTerms>(k, kMixing + k * kTerms) = phi.transpose();
    }
    a.middleRows<3>(3 * i) = weight * rows;
    y.segment<3>(3 * i) = weight * vector_of(xyz).cwiseQuotient(vector_of(kWhiteD50));
  }
  a.bottomRows(kPriorRows) = priors();
  const Eigen::MatrixXd some = a(Eigen::all, linear);
  const Eigen::VectorXd x = some.colPivHouseholderQr().solve(y);
  for (std::size_t i = 0; i < linear.size(); ++i) p[linear[i]] = x[i];
  return p;
}

Parameters LeastSquares::solve(const Parameters& from) const {
  Functor functor{*this, from};
  Eigen::VectorXd x(free_.size());
  for (std::size_t i = 0; i < free_.size(); ++i) x[i] = from[free_[i]];
  Eigen::LevenbergMarquardt<Functor> search(functor);
  search.parameters.ftol = search.parameters.xtol = 1e-7;
  search.parameters.maxfev = 200;
  search.minimize(x);
  return functor.full(x);
}

}  // namespace inkwane::target
