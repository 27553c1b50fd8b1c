// The fit of a decay: exact data give back the truth, what the data cannot tell is not told, and
// intervals hold the truth as often as they claim.
#include "course/decay.hpp"

#include <cmath>
#include <random>

#include <catch2/catch.hpp>

using namespace inkwane;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using course::DecayFit;
using course::Decaying;

namespace {

/// Readings of floor + (1 − floor) exp(−(rate x)^shape) with standard uncertainty u.
Decaying exact(const std::vector<double>& x, double rate, double floor, double u,
               double shape = 1) {
  const auto n = static_cast<Eigen::Index>(x.size());
  Decaying out{x, Eigen::VectorXd(n), u * u * Eigen::MatrixXd::Identity(n, n)};
  for (Eigen::Index i = 0; i < n; ++i) {
    out.share[i] =
        floor + (1 - floor) * std::exp(-std::pow(rate * x[static_cast<std::size_t>(i)], shape));
  }
  return out;
}

}  // namespace

TEST_CASE("exact readings give back rate and floor") {
  for (const double rate : {0.01, 0.04}) {
    for (const double floor : {0.0, 0.1, 0.4}) {
      const DecayFit fit(exact({20, 45, 60, 90}, rate, floor, 0.002));
      INFO(rate << " " << floor);
      REQUIRE(fit.rate());
      CHECK_THAT(fit.rate()->value, WithinRel(rate, 0.002));
      CHECK_THAT(fit.floor().value, WithinAbs(floor, 0.002));
      CHECK(fit.follows());
      CHECK(fit.shape() == 1);
      CHECK_THAT(fit.at(110).value, WithinAbs(floor + (1 - floor) * std::exp(-110 * rate), 0.002));
      CHECK(fit.rate()->ci95[0] < rate);
      CHECK(fit.rate()->ci95[1] > rate);
    }
  }
}

TEST_CASE("a floor is never below nothing, nor above all") {
  Decaying readings = exact({1, 2, 3}, 0.8, 0, 0.02);
  readings.share[2] -= 0.05;  // noise below what any floor allows
  const DecayFit fit(readings);
  CHECK(fit.floor().value == 0);
  CHECK(fit.floor().ci95[0] == 0);
  CHECK(fit.at(4).ci95[0] >= 0);
}

TEST_CASE("what the stages cannot tell is not told") {
  SECTION("nothing went: no rate") {
    const DecayFit fit(exact({1, 2, 3, 4}, 0, 0, 0.02));
    CHECK_FALSE(fit.rate());
    CHECK_THAT(fit.at(5).value, WithinAbs(1, 0.01));
    CHECK(fit.gone_between(4, 5).ci95[0] <= 1e-6);
  }
  SECTION(
      "all that can go went at the first step: the rate has no upper end, but there is a floor") {
    const DecayFit fit(exact({1, 2, 3}, 12, 0.2, 0.02));
    CHECK_FALSE(fit.rate());
    CHECK_THAT(fit.floor().value, WithinAbs(0.2, 0.01));
    CHECK(fit.gone_between(3, 4).ci95[1] < 0.05);
  }
  SECTION("two readings do not tell a floor from a slow end") {
    const DecayFit fit(exact({1, 2}, 0.5, 0.1, 0.02));
    CHECK(fit.floor().ci95[1] - fit.floor().ci95[0] > 0.2);
  }
}

TEST_CASE("a stretched decay is told from a plain one only by many stages") {
  const Decaying many = exact({1, 2, 4, 8, 12, 16}, 0.5, 0.05, 0.005, 0.6);
  const DecayFit fit(many);
  CHECK_THAT(fit.shape(), WithinAbs(0.6, 0.11));
  CHECK(fit.follows());
  const DecayFit few(exact({1, 2, 4, 8}, 0.5, 0.05, 0.005, 0.6));
  CHECK(few.shape() == 1);
}

TEST_CASE("readings that follow no decay widen the intervals and say so") {
  Decaying readings = exact({1, 2, 3, 4}, 0.4, 0.1, 0.01);
  const DecayFit good(readings);
  readings.share[1] += 0.15;  // more colour at the second stage than at the first
  const DecayFit bad(readings);
  CHECK(good.follows());
  CHECK_FALSE(bad.follows());
  REQUIRE(good.rate());
  const auto width = [](const course::Estimate& e) { return e.ci95[1] - e.ci95[0]; };
  CHECK(width(bad.at(5)) > 3 * width(good.at(5)));
}

TEST_CASE("intervals hold the truth as often as they claim, with errors that stages share") {
  // 95 % of 1,500: 1425 ± 17 (two standard deviations); bounds are three of them wide.
  constexpr int kSeries = 1500;
  std::mt19937_64 bits(11);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  int rate = 0, told = 0, floor = 0, next = 0;
  for (int s = 0; s < kSeries; ++s) {
    const double true_rate = 0.3 + 0.9 * uniform(bits), true_floor = 0.05 + 0.2 * uniform(bits);
    Decaying readings = exact({1, 2, 3, 4}, true_rate, true_floor, 0.01);
    const Eigen::VectorXd truth = readings.share;
    readings.covariance += 0.015 * 0.015 * truth * truth.transpose();
    const double first = normal(bits);
    for (Eigen::Index i = 0; i < 4; ++i)
      readings.share[i] += 0.01 * normal(bits) + 0.015 * truth[i] * first;
    const DecayFit fit(readings);
    const auto holds = [](const course::Estimate& e, double value) {
      return e.ci95[0] <= value && value <= e.ci95[1];
    };
    if (const auto estimate = fit.rate()) {
      ++told;
      rate += holds(*estimate, true_rate) ? 1 : 0;
    }
    floor += holds(fit.floor(), true_floor) ? 1 : 0;
    next += holds(fit.at(5), true_floor + (1 - true_floor) * std::exp(-5 * true_rate)) ? 1 : 0;
  }
  INFO("rate " << rate << " of " << told << ", floor " << floor << ", next " << next);
  CHECK(told > 0.99 * kSeries);
  for (const int held : {rate, floor, next}) {
    CHECK(held > 0.93 * told);
    CHECK(held < 0.97 * kSeries);  // not wider than they need be
  }
}
