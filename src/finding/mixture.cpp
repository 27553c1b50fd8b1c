#include "finding/mixture.hpp"

#include <Eigen/Dense>

namespace inkwane::finding {
namespace {

class Search {
 public:
  Search(const std::vector<Eigen::Vector3d>& columns, const Eigen::Vector3d& target, double nearer)
      : columns_(columns),
        target_(target),
        worth_it_(nearer * target.squaredNorm()),
        weights_(columns.size(), 0),
        least_(target.squaredNorm()) {}

  std::vector<double> run() {
    const std::size_t n = columns_.size();
    for (std::size_t i = 0; i < n; ++i) consider<1>({i});
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = i + 1; j < n; ++j) consider<2>({i, j});
    }
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = i + 1; j < n; ++j) {
        for (std::size_t k = j + 1; k < n; ++k) consider<3>({i, j, k});
      }
    }
    return weights_;
  }

 private:
  const std::vector<Eigen::Vector3d>& columns_;
  const Eigen::Vector3d& target_;
  double worth_it_;
  std::vector<double> weights_;
  double least_;

  template <int N>
  void consider(const std::array<std::size_t, N>& set) {
    Eigen::Matrix<double, 3, N> a;
    for (int c = 0; c < N; ++c) a.col(c) = columns_[set[static_cast<std::size_t>(c)]];
    const Eigen::Matrix<double, N, 1> w = (a.transpose() * a).ldlt().solve(a.transpose() * target_);
    if (!w.allFinite() || w.minCoeff() < 0) return;
    const double distance = (target_ - a * w).squaredNorm();
    if (distance > least_ - (N > 1 ? worth_it_ : 0)) return;
    least_ = distance;
    weights_.assign(weights_.size(), 0);
    for (int c = 0; c < N; ++c) weights_[set[static_cast<std::size_t>(c)]] = w[c];
  }
};

}  // namespace

std::vector<double> mixture(const std::vector<Eigen::Vector3d>& columns,
                            const Eigen::Vector3d& target, double nearer) {
  return Search(columns, target, nearer).run();
}

}  // namespace inkwane::finding
