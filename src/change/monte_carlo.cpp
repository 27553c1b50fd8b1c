#include "change/monte_carlo.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <random>

#include <Eigen/Eigenvalues>

#include "change/colour_space.hpp"

namespace inkwane::change {

Eigen::MatrixXd standard_normals(int draws, int dimensions, std::uint64_t seed) {
  std::mt19937_64 bits(seed);
  std::normal_distribution<double> normal;
  Eigen::MatrixXd z(draws, dimensions);
  // Column by column, so that the first columns do not depend on how many there are.
  for (int c = 0; c < dimensions; ++c) {
    for (int r = 0; r < draws; ++r) z(r, c) = normal(bits);
  }
  return z;
}

Eigen::MatrixXd correlated(const Eigen::MatrixXd& covariance, const Eigen::MatrixXd& normals) {
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(covariance);
  const Eigen::VectorXd scale = solver.eigenvalues().cwiseMax(0).cwiseSqrt();
  const Eigen::MatrixXd root =
      solver.eigenvectors() * scale.asDiagonal() * solver.eigenvectors().transpose();
  return normals.leftCols(covariance.rows()) * root;
}

double chi2_tail_3(double x) {
  if (x <= 0) return 1;
  // Q(3/2, x/2) in closed form (Abramowitz & Stegun 26.4.4, odd degrees of freedom).
  return std::erfc(std::sqrt(x / 2)) + std::sqrt(2 * x / std::numbers::pi) * std::exp(-x / 2);
}

std::vector<bool> holm(const std::vector<double>& p_values, double level) {
  std::vector<std::size_t> order(p_values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t i, std::size_t j) { return p_values[i] < p_values[j]; });
  std::vector<bool> rejected(p_values.size(), false);
  for (std::size_t rank = 0; rank < order.size(); ++rank) {
    if (p_values[order[rank]] > level / static_cast<double>(order.size() - rank)) break;
    rejected[order[rank]] = true;
  }
  return rejected;
}

std::array<double, 2> delta_e_interval(const LabD50& from, const LabD50& to,
                                       const Eigen::Ref<const Eigen::MatrixXd>& from_errors,
                                       const Eigen::Ref<const Eigen::MatrixXd>& to_errors) {
  const int n = static_cast<int>(from_errors.rows());
  const double measured = ciede2000(from, to);
  const std::array<double, 3> base{from.L, from.a, from.b};
  const std::array<double, 3> step{to.L - from.L, to.a - from.a, to.b - from.b};
  Row3 one, two;
  one.resize(n), two.resize(n);
  std::vector<float> shown(static_cast<std::size_t>(n));
  for (int c = 0; c < 3; ++c) {
    for (int i = 0; i < n; ++i)
      one[c][i] = static_cast<float>(base[static_cast<std::size_t>(c)] + from_errors(i, c));
  }
  /// CIEDE2000 seen in the draws if t times the measured change were true, in order.
  auto seen = [&](double t) {
    for (int c = 0; c < 3; ++c) {
      const double centre =
          base[static_cast<std::size_t>(c)] + t * step[static_cast<std::size_t>(c)];
      for (int i = 0; i < n; ++i) two[c][i] = static_cast<float>(centre + to_errors(i, c));
    }
    delta_e_row(one, two, n, shown.data());
    std::sort(shown.begin(), shown.end());
  };
  const auto rare = static_cast<std::size_t>(0.975 * (n - 1));
  auto explains = [&](double t) {
    seen(t);
    return static_cast<double>(shown[rare]) >= measured;
  };
  seen(1);
  const double upper = std::max(measured, static_cast<double>(shown[rare]));
  if (explains(0)) return {0, upper};
  double low = 0, high = 1;
  for (int round = 0; round < 12; ++round) {
    const double middle = 0.5 * (low + high);
    (explains(middle) ? high : low) = middle;
  }
  const double lower = ciede2000(
      from, {base[0] + high * step[0], base[1] + high * step[1], base[2] + high * step[2]});
  return {std::min(lower, measured), upper};
}

}  // namespace inkwane::change
