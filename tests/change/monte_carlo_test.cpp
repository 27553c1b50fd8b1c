// Intervals and decisions that are honest near zero.
#include "change/monte_carlo.hpp"

#include <random>

#include <catch2/catch.hpp>

using namespace inkwane;
using Catch::Matchers::WithinAbs;

TEST_CASE("Tail of χ² with three degrees of freedom") {
  // Critical values of the NIST/SEMATECH e-Handbook, section 1.3.6.7.4 (from memory).
  CHECK_THAT(change::chi2_tail_3(6.251), WithinAbs(0.10, 1e-4));
  CHECK_THAT(change::chi2_tail_3(7.815), WithinAbs(0.05, 1e-4));
  CHECK_THAT(change::chi2_tail_3(11.345), WithinAbs(0.01, 1e-5));
  CHECK_THAT(change::chi2_tail_3(16.266), WithinAbs(0.001, 1e-6));
  CHECK(change::chi2_tail_3(0) == 1);
}

TEST_CASE("Holm's procedure stops at the first that does not reject") {
  // At 0.05 and four tests: 0.005 ≤ 0.0125, 0.01 ≤ 0.0167, 0.03 > 0.025.
  CHECK(change::holm({0.01, 0.04, 0.03, 0.005}, 0.05) ==
        std::vector<bool>{true, false, false, true});
  CHECK(change::holm({}, 0.01).empty());
  // The last would reject alone, but one before it in order does not.
  CHECK(change::holm({0.03, 0.04}, 0.05) == std::vector<bool>{false, false});
}

TEST_CASE("Draws have the covariance they were asked for, singular ones too") {
  Eigen::Matrix3d c;
  c << 4, 2, 0, 2, 1, 0, 0, 0, 0;  // the second is half of the first, the third does not vary
  const Eigen::MatrixXd z = change::standard_normals(20'000, 3, 7);
  const Eigen::MatrixXd x = change::correlated(c, z);
  const Eigen::Matrix3d seen = x.transpose() * x / 20'000.0;
  CHECK((seen - c).cwiseAbs().maxCoeff() < 0.1);
  CHECK((x.col(0) - 2 * x.col(1)).cwiseAbs().maxCoeff() < 1e-6);
  CHECK(change::standard_normals(50, 2, 7) == change::standard_normals(50, 2, 7));
  CHECK(change::standard_normals(50, 4, 7).leftCols(2) == change::standard_normals(50, 2, 7));
}

TEST_CASE("The interval of a colour difference holds the truth, zero as well") {
  // A pale paper and a saturated ink.
  std::mt19937_64 bits(11);
  std::normal_distribution<double> normal;
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(6, 6);
  for (int i = 0; i < 3; ++i) {
    covariance(i, i) = covariance(i + 3, i + 3) = 0.10;
    covariance(i, i + 3) = covariance(i + 3, i) = 0.06;  // both stages share most of their error
  }
  covariance(0, 0) = covariance(3, 3) = 0.07;
  const Eigen::MatrixXd z = change::standard_normals(2000, 6, 3);
  const Eigen::MatrixXd errors = change::correlated(covariance, z);
  const Eigen::MatrixXd truth_errors =
      change::correlated(covariance, change::standard_normals(400, 6, 99));
  for (const LabD50 base : {LabD50{80, 0, 10}, LabD50{50, 45, 25}}) {
    for (const double step : {0.0, 0.2, 0.6, 2.0, 8.0}) {
      const LabD50 later{base.L - 0.6 * step, base.a + 0.6 * step, base.b + 0.5 * step};
      const double truth = ciede2000(base, later);
      int held = 0;
      double width = 0;
      for (int i = 0; i < 400; ++i) {
        const auto e = truth_errors.row(i);
        const LabD50 a{base.L + e[0], base.a + e[1], base.b + e[2]},
            b{later.L + e[3], later.a + e[4], later.b + e[5]};
        const auto ci = change::delta_e_interval(a, b, errors.leftCols(3), errors.rightCols(3));
        held += ci[0] <= truth + 1e-9 && truth <= ci[1] ? 1 : 0;
        width += (ci[1] - ci[0]) / 400;
        CHECK(ci[0] >= 0);
        CHECK(ci[0] <= ci[1]);
      }
      INFO("L " << base.L << ", truth " << truth << ": held " << held << " of 400, mean width "
                << width);
      CHECK(held >= 370);      // 92.5 %: three standard deviations below 95 % of 400
      CHECK(width < 4 * 0.5);  // an interval that holds everything says nothing
    }
  }
}

TEST_CASE("Without uncertainty the interval is the value") {
  const Eigen::MatrixXd none = Eigen::MatrixXd::Zero(100, 3);
  const LabD50 a{60, 10, 10}, b{55, 12, 8};
  const auto ci = change::delta_e_interval(a, b, none, none);
  CHECK_THAT(ci[0], WithinAbs(ciede2000(a, b), 1e-3));
  CHECK_THAT(ci[1], WithinAbs(ciede2000(a, b), 1e-3));
  const auto same = change::delta_e_interval(a, a, none, none);
  CHECK(same[0] == 0);
  CHECK(same[1] == 0);
}
