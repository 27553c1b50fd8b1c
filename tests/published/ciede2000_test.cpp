// CIEDE2000 against its published test data.
//
// Source: G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula: implementation
// notes, supplementary test data, and mathematical observations", Color Res. Appl. 30(1), 2005,
// Table 1. The numbers were taken from the copy of that table in scikit-image 0.19.3 (Debian
// python3-skimage, skimage/color/tests/ciede2000_test_data.txt; BSD-3-Clause), columns L, a, b of
// both colours and dE. The last token of row 34 there, a hue angle that is not used here, carries a
// stray digit ("260.18421").
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include <catch2/catch.hpp>

#include <inkwane/colour.hpp>

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {

struct Pair {
  LabD50 one, two;
  double dE00;
};

const std::vector<Pair> kTable1{
    {{50.0000, 2.6772, -79.7751}, {50.0000, 0.0000, -82.7485}, 2.0425},    // 1
    {{50.0000, 3.1571, -77.2803}, {50.0000, 0.0000, -82.7485}, 2.8615},    // 2
    {{50.0000, 2.8361, -74.0200}, {50.0000, 0.0000, -82.7485}, 3.4412},    // 3
    {{50.0000, -1.3802, -84.2814}, {50.0000, 0.0000, -82.7485}, 1.0000},   // 4
    {{50.0000, -1.1848, -84.8006}, {50.0000, 0.0000, -82.7485}, 1.0000},   // 5
    {{50.0000, -0.9009, -85.5211}, {50.0000, 0.0000, -82.7485}, 1.0000},   // 6
    {{50.0000, 0.0000, 0.0000}, {50.0000, -1.0000, 2.0000}, 2.3669},       // 7
    {{50.0000, -1.0000, 2.0000}, {50.0000, 0.0000, 0.0000}, 2.3669},       // 8
    {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0009}, 7.1792},      // 9
    {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0010}, 7.1792},      // 10
    {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0011}, 7.2195},      // 11
    {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0012}, 7.2195},      // 12
    {{50.0000, -0.0010, 2.4900}, {50.0000, 0.0009, -2.4900}, 4.8045},      // 13
    {{50.0000, -0.0010, 2.4900}, {50.0000, 0.0010, -2.4900}, 4.8045},      // 14
    {{50.0000, -0.0010, 2.4900}, {50.0000, 0.0011, -2.4900}, 4.7461},      // 15
    {{50.0000, 2.5000, 0.0000}, {50.0000, 0.0000, -2.5000}, 4.3065},       // 16
    {{50.0000, 2.5000, 0.0000}, {73.0000, 25.0000, -18.0000}, 27.1492},    // 17
    {{50.0000, 2.5000, 0.0000}, {61.0000, -5.0000, 29.0000}, 22.8977},     // 18
    {{50.0000, 2.5000, 0.0000}, {56.0000, -27.0000, -3.0000}, 31.9030},    // 19
    {{50.0000, 2.5000, 0.0000}, {58.0000, 24.0000, 15.0000}, 19.4535},     // 20
    {{50.0000, 2.5000, 0.0000}, {50.0000, 3.1736, 0.5854}, 1.0000},        // 21
    {{50.0000, 2.5000, 0.0000}, {50.0000, 3.2972, 0.0000}, 1.0000},        // 22
    {{50.0000, 2.5000, 0.0000}, {50.0000, 1.8634, 0.5757}, 1.0000},        // 23
    {{50.0000, 2.5000, 0.0000}, {50.0000, 3.2592, 0.3350}, 1.0000},        // 24
    {{60.2574, -34.0099, 36.2677}, {60.4626, -34.1751, 39.4387}, 1.2644},  // 25
    {{63.0109, -31.0961, -5.8663}, {62.8187, -29.7946, -4.0864}, 1.2630},  // 26
    {{61.2901, 3.7196, -5.3901}, {61.4292, 2.2480, -4.9620}, 1.8731},      // 27
    {{35.0831, -44.1164, 3.7933}, {35.0232, -40.0716, 1.5901}, 1.8645},    // 28
    {{22.7233, 20.0904, -46.6940}, {23.0331, 14.9730, -42.5619}, 2.0373},  // 29
    {{36.4612, 47.8580, 18.3852}, {36.2715, 50.5065, 21.2231}, 1.4146},    // 30
    {{90.8027, -2.0831, 1.4410}, {91.1528, -1.6435, 0.0447}, 1.4441},      // 31
    {{90.9257, -0.5406, -0.9208}, {88.6381, -0.8985, -0.7239}, 1.5381},    // 32
    {{6.7747, -0.2908, -2.4247}, {5.8714, -0.0985, -2.2286}, 0.6377},      // 33
    {{2.0776, 0.0795, -1.1350}, {0.9033, -0.0636, -0.5514}, 0.9082},       // 34
};

}  // namespace

TEST_CASE("CIEDE2000: the 34 pairs of Sharma, Wu, Dalal (2005), in both orders") {
  REQUIRE(kTable1.size() == 34);
  for (std::size_t i = 0; i < kTable1.size(); ++i) {
    CAPTURE(i + 1);
    // The table is printed with four decimals.
    CHECK_THAT(ciede2000(kTable1[i].one, kTable1[i].two), WithinAbs(kTable1[i].dE00, 1e-4));
    CHECK_THAT(ciede2000(kTable1[i].two, kTable1[i].one), WithinAbs(kTable1[i].dE00, 1e-4));
  }
}

// The formula is symmetric, and zero for equal colours alone (Sharma, Wu, Dalal 2005, section 3).
TEST_CASE("CIEDE2000: symmetry and identity on seeded colours") {
  std::mt19937_64 random(2005);
  std::uniform_real_distribution<double> lightness(0, 100), opponent(-100, 100);
  const auto colour = [&] { return LabD50{lightness(random), opponent(random), opponent(random)}; };
  for (int i = 0; i < 200'000; ++i) {
    const LabD50 one = colour(), two = colour();
    const double there = ciede2000(one, two);
    REQUIRE(std::isfinite(there));
    REQUIRE(there > 0);
    REQUIRE_THAT(there - ciede2000(two, one), WithinAbs(0, 1e-10));
    REQUIRE(ciede2000(one, one) == 0);
  }
}

// The same paper, section "Discontinuities": the formula jumps only where two hues are opposite
// each other. A sweep of neighbouring hues through 0°/360° must therefore be smooth, and close to
// symmetric about that point.
TEST_CASE("CIEDE2000: neighbouring hues through 0 and 360 degrees make no jump") {
  const double step = std::numbers::pi / 180 / 4;
  for (const double chroma : {0.5, 5.0, 40.0, 110.0}) {
    const auto at = [&](double hue) {
      return LabD50{55, chroma * std::cos(hue), chroma * std::sin(hue)};
    };
    double before = ciede2000(at(-step), at(0));
    for (int i = 0; i < 1440 + 8; ++i) {
      const double here = ciede2000(at(i * step), at((i + 1) * step));
      // A quarter degree of hue alters this small difference by less than 3 %.
      REQUIRE_THAT(here / before, WithinAbs(1, 0.03));
      before = here;
    }
  }
}
