// Protects the fast CIELAB and CIEDE2000: on every kind of vectors that this processor has they
// must give what the scalar formulas give.
#include "colour/planes.hpp"

#include <limits>

#include <catch2/catch.hpp>
#include <hwy/targets.h>

#include "tests/colour/pairs.hpp"

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {

/// The kinds of vectors that are there, one at a time.
template <typename Check>
void on_each_target(Check check) {
  const auto all = hwy::SupportedTargets();
  int tried = 0;
  for (auto rest = all; rest != 0; rest &= rest - 1) {
    const auto target = rest & -rest;
    if (hwy::TargetName(target) == std::string("SCALAR") ||
        hwy::TargetName(target) == std::string("EMU128"))
      continue;  // compiled only where there are no vectors at all
    hwy::SetSupportedTargetsForTest(target);
    CAPTURE(hwy::TargetName(target));
    check();
    ++tried;
  }
  hwy::SetSupportedTargetsForTest(0);
  CHECK(tried > 0);
}

}  // namespace

TEST_CASE("CIEDE2000 of planes is within 1e-4 of the scalar formula, on all vectors there are") {
  for (const std::string& kind : test::kPairKinds) {
    const test::Pairs pairs = test::make_pairs(kind, 60'000);
    const std::vector<double> truth = test::truth_of(pairs);
    on_each_target([&] {
      std::vector<float> fast(pairs.size());
      colour::ciede2000_planes(pairs.ones(), pairs.twos(), pairs.size(), fast.data());
      CAPTURE(kind);
      CHECK(test::largest_error(truth, fast) < 1e-4);
    });
  }
}

TEST_CASE("exactly opposite hues take the same side whichever formula is asked") {
  // Half a turn of the mean hue alters T, and with it ΔH′'s weight, by tenths.
  for (const auto& [a, b] : {std::array{30.0, 0.0}, std::array{0.0, 30.0}, std::array{-30.0, 0.0},
                             std::array{0.0, -30.0}, std::array{12.5, -40.25}}) {
    const test::Pairs pairs = [&] {
      test::Pairs made;
      made.add({50, a, b}, {50, -2 * a, -2 * b});
      return made;
    }();
    float fast = 0;
    colour::ciede2000_planes(pairs.ones(), pairs.twos(), 1, &fast);
    CAPTURE(a, b);
    CHECK_THAT(double{fast}, WithinAbs(ciede2000(pairs.one(0), pairs.two(0)), 1e-4));
    CHECK_THAT(ciede2000(pairs.one(0), pairs.two(0)),
               WithinAbs(ciede2000(pairs.two(0), pairs.one(0)), 1e-9));
  }
}

TEST_CASE("Lab of planes is within 0.001 of the scalar formula") {
  std::mt19937_64 bits(11664);
  std::uniform_real_distribution<double> light(0, 2);
  constexpr std::size_t kCount = 100'003;  // no whole number of vectors
  std::array<std::vector<float>, 3> xyz, lab;
  for (std::size_t i = 0; i < kCount; ++i) {
    for (auto& plane : xyz)
      plane.push_back(static_cast<float>(light(bits) * (i % 3 == 0 ? 0.01 : 1)));
  }
  for (auto& plane : lab) plane.resize(kCount);
  on_each_target([&] {
    colour::to_lab_planes({1, 0, 0, 0, 1, 0, 0, 0, 1},
                          {xyz[0].data(), xyz[1].data(), xyz[2].data()}, kCount,
                          {lab[0].data(), lab[1].data(), lab[2].data()});
    double worst = 0;
    for (std::size_t i = 0; i < kCount; ++i) {
      const LabD50 truth = to_lab({double{xyz[0][i]}, double{xyz[1][i]}, double{xyz[2][i]}});
      worst =
          std::max({worst, std::abs(double{lab[0][i]} - truth.L),
                    std::abs(double{lab[1][i]} - truth.a), std::abs(double{lab[2][i]} - truth.b)});
    }
    CHECK(worst < 0.001);
  });
}

TEST_CASE("what was not measured stays so, at any place of a vector") {
  constexpr std::size_t kCount = 19;
  for (std::size_t hole = 0; hole < kCount; ++hole) {
    std::array<std::vector<float>, 3> light, lab;
    for (auto& plane : light) plane.assign(kCount, 0.5F);
    for (auto& plane : lab) plane.resize(kCount);
    light[hole % 3][hole] = std::numeric_limits<float>::quiet_NaN();
    colour::to_lab_planes({1, 0.1F, 0.1F, 0.1F, 1, 0.1F, 0.1F, 0.1F, 1},
                          {light[0].data(), light[1].data(), light[2].data()}, kCount,
                          {lab[0].data(), lab[1].data(), lab[2].data()});
    std::vector<float> dE(kCount, -1);
    const colour::ConstPlanes all{lab[0].data(), lab[1].data(), lab[2].data()};
    colour::ciede2000_planes(all, all, kCount, dE.data());
    for (std::size_t i = 0; i < kCount; ++i) {
      CHECK(std::isnan(lab[1][i]) == (i == hole));
      CHECK(std::isnan(dE[i]) == (i == hole));
      if (i != hole) CHECK(dE[i] == 0);
    }
  }
}
