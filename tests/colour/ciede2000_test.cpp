// Protects CIEDE2000 (ISO/CIE 11664-6) at its branches: zero chroma, mean hue, rotation term.
#include <cmath>

#include <catch2/catch.hpp>

#include <inkwane/colour.hpp>

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {
struct Pair {
  LabD50 one, two;
  double expected;
};
}  // namespace

TEST_CASE("pairs of Sharma, Wu, Dalal (2005), Table 1, at the formula's branches") {
  // Printed with four decimals; row numbers as in the table.
  const Pair pairs[] = {
      {{50, 2.6772, -79.7751}, {50, 0, -82.7485}, 2.0425},              // 1
      {{50, 3.1571, -77.2803}, {50, 0, -82.7485}, 2.8615},              // 2
      {{50, 0, 0}, {50, -1, 2}, 2.3669},                                // 7
      {{50, -1, 2}, {50, 0, 0}, 2.3669},                                // 8
      {{50, 2.49, -0.001}, {50, -2.49, 0.0009}, 7.1792},                // 9
      {{50, 2.49, -0.001}, {50, -2.49, 0.0010}, 7.1792},                // 10
      {{50, 2.49, -0.001}, {50, -2.49, 0.0011}, 7.2195},                // 11
      {{50, 2.49, -0.001}, {50, -2.49, 0.0012}, 7.2195},                // 12
      {{50, -0.001, 2.49}, {50, 0.0009, -2.49}, 4.8045},                // 13
      {{50, -0.001, 2.49}, {50, 0.0010, -2.49}, 4.8045},                // 14
      {{50, -0.001, 2.49}, {50, 0.0011, -2.49}, 4.7461},                // 15
      {{50, 2.5, 0}, {73, 25, -18}, 27.1492},                           // 17
      {{2.0776, 0.0795, -1.1350}, {0.9033, -0.0636, -0.5514}, 0.9082},  // 34
  };
  for (const Pair& p : pairs) {
    CHECK_THAT(ciede2000(p.one, p.two), WithinAbs(p.expected, 5.1e-5));
    CHECK_THAT(ciede2000(p.two, p.one), WithinAbs(p.expected, 5.1e-5));
  }
}

TEST_CASE("a colour differs from itself by nothing, and no hue makes a jump") {
  double last = -1;
  for (int degrees = 0; degrees <= 720; ++degrees) {
    const double h = degrees * 3.14159265358979 / 360;
    const LabD50 colour{60, 45 * std::cos(h), 45 * std::sin(h)};
    const LabD50 turned{60, 45 * std::cos(h + 0.05), 45 * std::sin(h + 0.05)};
    REQUIRE(ciede2000(colour, colour) == 0);
    const double d = ciede2000(colour, turned);
    if (last >= 0) REQUIRE_THAT(d - last, WithinAbs(0, 0.02));  // half a degree a step
    last = d;
  }
}
