// Protects the scan model: its terms vanish on grey, its tone is invertible, its derivatives are
// right.
#include "target/model.hpp"

#include <cmath>

#include <catch2/catch.hpp>

#include "target/metric.hpp"

using namespace inkwane;
using namespace inkwane::target;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

Parameters some_parameters() {
  Parameters p = Parameters::Zero();
  p.segment<3>(kGamma) << 1.02, 0.97, 1.05;
  p.segment<3>(kBeta) << 0.01, -0.02, 0.015;
  p.segment<3>(kOffset) << 0.001, -0.001, 0.002;
  for (int k = 0; k < 3; ++k) {
    for (int t = 0; t < kTerms; ++t) p[kMixing + k * kTerms + t] = t == k ? 0.9 : 0.03 * (t % 3);
  }
  return p;
}

}  // namespace

TEST_CASE("terms beyond the linear ones vanish on grey and scale with exposure") {
  const Terms grey = terms({0.37, 0.37, 0.37});
  for (int t = 3; t < kTerms; ++t) CHECK_THAT(grey[t], WithinAbs(0, 1e-15));
  const Terms once = terms({0.5, 0.2, 0.1}), half = terms({0.25, 0.1, 0.05});
  for (int t = 0; t < kTerms; ++t) CHECK_THAT(half[t], WithinAbs(once[t] / 2, 1e-15));
}

TEST_CASE("the tone is taken back, above and below its knee, and rises across it") {
  const Parameters p = some_parameters();
  REQUIRE(tone_rises(p));
  double last = 0;
  for (double v = 1e-5; v < 1.2; v *= 1.1) {
    for (int c = 0; c < 3; ++c) {
      CHECK_THAT(std::exp(log_before_tone(p, c, tone(p, c, v))), WithinRel(v, 1e-9));
    }
    CHECK(tone(p, 0, v) > last);
    last = tone(p, 0, v);
  }
}

TEST_CASE("a tone that turns round is seen") {
  Parameters p = some_parameters();
  p[kBeta] = 0.2;  // γ + 2 β ln v is negative at v = 0.002
  CHECK_FALSE(tone_rises(p));
}

TEST_CASE("derivatives of Lab by the parameters agree with differences") {
  const Parameters p = some_parameters();
  for (const Eigen::Vector3d& v :
       {Eigen::Vector3d(0.5, 0.3, 0.1), {0.02, 0.05, 0.01}, {0.001, 0.0015, 0.0012}}) {
    const auto lab = [&v](const Parameters& q) {
      return vector_of(to_lab(mix(q, {tone(q, 0, v[0]), tone(q, 1, v[1]), tone(q, 2, v[2])})));
    };
    const Jacobian d = lab_by_parameters(p, {tone(p, 0, v[0]), tone(p, 1, v[1]), tone(p, 2, v[2])});
    for (int k = 0; k < kParameters; ++k) {
      constexpr double kStep = 1e-6;
      Parameters up = p, down = p;
      up[k] += kStep;
      down[k] -= kStep;
      const Eigen::Vector3d slope = (lab(up) - lab(down)) / (2 * kStep);
      CAPTURE(k);
      CHECK((d.col(k) - slope).norm() < 1e-5 * (1 + slope.norm()));
    }
  }
}

TEST_CASE("each rung frees what its name says") {
  CHECK(free_parameters(Rung::linear).size() == 15);
  CHECK(free_parameters(Rung::bent).size() == 18);
  CHECK(free_parameters(Rung::root2).size() == 27);
  CHECK(free_parameters(Rung::root3).size() == 48);
}
