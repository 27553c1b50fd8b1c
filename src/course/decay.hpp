// First-order decay with a floor, fitted by maximum likelihood, with profile-likelihood intervals.
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include <inkwane/course.hpp>

namespace inkwane::course {

using results::Estimate;

/// Shares of a colour left at later stages; at x = 0 the share is 1 by definition.
struct Decaying {
  std::vector<double> x;  ///< above 0, rising
  Eigen::VectorXd share;
  Eigen::MatrixXd covariance;
};

/// Fewest later stages that a rate can be told from.
inline constexpr std::size_t kLeastReadings = 2;

/// share = floor + (1 − floor) exp(−(rate x)^shape), 0 ≤ floor ≤ 1, shape 1 unless five readings or
/// more speak clearly for another.
class DecayFit {
 public:
  /// `readings` has at least kLeastReadings.
  explicit DecayFit(const Decaying& readings);

  /// None where the readings set it no upper end.
  [[nodiscard]] std::optional<Estimate> rate() const;
  [[nodiscard]] Estimate floor() const;
  [[nodiscard]] double shape() const { return best_.shape; }
  /// Share left at x ≥ 0.
  [[nodiscard]] Estimate at(double x) const;
  /// Share that goes from one x to a later one.
  [[nodiscard]] Estimate gone_between(double from, double to) const;
  /// Whether the readings lie as near to the curve as their uncertainty lets expect (1 % level); if
  /// not, all intervals are widened by √(χ²/degrees of freedom).
  [[nodiscard]] bool follows() const { return widening_ == 1; }

 private:
  /// A rate and shape; over them χ² is a parabola of the floor.
  struct Candidate {
    double rate = 0, shape = 1;
    double free_floor = 0, curvature = 0, free_chi2 = 0;  ///< floor not held to 0 … 1
    double floor = 0, chi2 = 0;                           ///< floor held to 0 … 1
    [[nodiscard]] double gone(double x) const;            ///< 1 − exp(−(rate x)^shape)
  };
  /// start + slope · floor
  struct Line {
    double start = 0, slope = 0;
  };
  [[nodiscard]] Candidate weigh(double rate, double shape) const;
  using Sweep = std::vector<Candidate>;  ///< of one shape, by rising rate
  [[nodiscard]] Sweep sweep(double shape, double low, double high) const;
  void search(const std::vector<double>& shapes);
  void widen();
  [[nodiscard]] double limit() const;
  template <typename LineOf>
  [[nodiscard]] Estimate extent(const LineOf& line_of) const;

  Decaying readings_;
  Eigen::MatrixXd inverse_;
  std::vector<Sweep> sweeps_;  // all likely rates, up to the first unlikely one on each side
  Candidate best_;
  double widening_ = 1;
};

}  // namespace inkwane::course
