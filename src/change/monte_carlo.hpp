// Draws from a joint normal distribution, and what they say about CIEDE2000 (JCGM 101).
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include <Eigen/Core>

#include <inkwane/colour.hpp>

namespace inkwane::change {

/// `draws` × `dimensions` independent standard normals; the same for the same seed.
[[nodiscard]] Eigen::MatrixXd standard_normals(int draws, int dimensions, std::uint64_t seed);

/// Correlated draws of mean zero (draws × n) from the first n columns of standard normals.
/// `covariance` (n × n) may be singular; what rounding made negative in it counts as zero.
[[nodiscard]] Eigen::MatrixXd correlated(const Eigen::MatrixXd& covariance,
                                         const Eigen::MatrixXd& normals);

/// P(χ² with 3 degrees of freedom ≥ x).
[[nodiscard]] double chi2_tail_3(double x);

/// Which of several tests reject at family-wise `level` (Holm, Scand. J. Stat. 6, 1979).
[[nodiscard]] std::vector<bool> holm(const std::vector<double>& p_values, double level);

/// 95 % interval of the true CIEDE2000 between two colours that were measured as `from` and `to`,
/// with errors (draws × 3, Lab) drawn jointly. Measured CIEDE2000 is biased upward near zero, so
/// the lower end inverts a test: the least true difference, along the measured direction, under
/// which a measurement as large as this one is no rarer than 2.5 %. The upper end is the 97.5 %
/// point of the draws about the measured change, which errs on the wide side near zero.
[[nodiscard]] std::array<double, 2> delta_e_interval(
    const LabD50& from, const LabD50& to, const Eigen::Ref<const Eigen::MatrixXd>& from_errors,
    const Eigen::Ref<const Eigen::MatrixXd>& to_errors);

}  // namespace inkwane::change
