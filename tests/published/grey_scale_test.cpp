// Grades of the textile trade's grey scales against the printed scales themselves.
#include "colour/grey_scale.hpp"

#include <array>

#include <catch2/catch.hpp>

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {

struct Step {
  const char* grade;
  double value, dE;
};

// Source: ISO 105-A02:1993, table of colour differences (preview of the standard): CIELAB
// difference of each pair of grey chips.
constexpr std::array<Step, 9> kChange{{{"5", 5, 0},
                                       {"4–5", 4.5, 0.8},
                                       {"4", 4, 1.7},
                                       {"3–4", 3.5, 2.5},
                                       {"3", 3, 3.4},
                                       {"2–3", 2.5, 4.8},
                                       {"2", 2, 6.8},
                                       {"1–2", 1.5, 9.6},
                                       {"1", 1, 13.6}}};

// Source: ISO 105-A03:1993, the same for the grey scale for staining; values from memory.
constexpr std::array<Step, 9> kStaining{{{"5", 5, 0},
                                         {"4–5", 4.5, 2.2},
                                         {"4", 4, 4.3},
                                         {"3–4", 3.5, 6.0},
                                         {"3", 3, 8.5},
                                         {"2–3", 2.5, 12.0},
                                         {"2", 2, 16.9},
                                         {"1–2", 1.5, 24.0},
                                         {"1", 1, 34.1}}};

LabD50 grey(double L) {
  return {L, 0, 0};
}

}  // namespace

// The formula must give each pair of the scale its own grade; 0.05 is the rounding of the printed
// differences (0.1 of 1.7 a grade at most).
TEST_CASE("the grey scale for change in colour grades itself") {
  for (const Step& step : kChange) {
    const double grade = colour::grade_of_change(grey(40), grey(40 + step.dE));
    CHECK_THAT(grade, WithinAbs(step.value, 0.05));
    CHECK(colour::half_grade(grade) == step.grade);
    CHECK_THAT(colour::grade_of_change(grey(40 + step.dE), grey(40)), WithinAbs(grade, 1e-12));
  }
}

TEST_CASE("the grey scale for staining grades itself") {
  for (const Step& step : kStaining) {
    const double grade = colour::grade_of_staining(grey(94), grey(94 - step.dE));
    CHECK_THAT(grade, WithinAbs(step.value, 0.05));
    CHECK(colour::half_grade(grade) == step.grade);
  }
}

// Source: the formula of ISO 105-A05:1997 clause 7.2 (trade's notes, weights from memory), worked
// by hand. Red that faded: L 46.2 → 49.8, a 52.1 → 46.0, b 28.4 → 25.1.
//   C 59.337, 52.402; mean 55.870; hues 28.60°, 28.62°, so ΔH 0.02; |28.61 − 280| = 251.39 > 180:
//   x = ((360 − 251.39)/30)² = 13.107; e^−x = 2.03e−6: D ≈ 0.
//   ΔC −6.935 / (1 + (20 · 55.870/1000)²) = −6.935 / 2.2486 = −3.084; ΔL 3.6; ΔE_F = 4.741.
//   5 − log2(4.741/0.85) = 2.520.
TEST_CASE("a faded red, worked by hand") {
  const LabD50 before{46.2, 52.1, 28.4}, after{49.8, 46.0, 25.1};
  CHECK_THAT(colour::grey_scale_difference(before, after), WithinAbs(4.741, 2e-3));
  CHECK_THAT(colour::grade_of_change(before, after), WithinAbs(2.520, 2e-3));
}

// Near hue 280° (blue) chroma lost counts differently: there D is not nothing. L 40, C 40 → 30 at
// 280°: x 0, D = −10 · 35/100 = −3.5; ΔC −6.5/(1 + .49) = −4.3624; ΔH 3.5/(1 + .1225) = 3.1180;
// ΔE_F = 5.3620.
TEST_CASE("a blue that lost chroma, worked by hand") {
  constexpr double kCos = 0.173648178, kSin = -0.984807753;  // of 280°
  CHECK_THAT(colour::grey_scale_difference({40, 40 * kCos, 40 * kSin}, {40, 30 * kCos, 30 * kSin}),
             WithinAbs(5.3620, 1e-3));
}

// Colour counts less than lightness on the scale for staining: ΔL −3, Δa 4: ΔE 5,
// ΔE_GS = 5 − 0.4 · 4 = 3.4; 6.1 − 1.45 ln 3.4 = 4.3256 > 4, so 5 − 0.23 · 3.4 = 4.218.
TEST_CASE("a pink stain, worked by hand") {
  CHECK_THAT(colour::grade_of_staining({90, 0, 10}, {87, 4, 10}), WithinAbs(4.218, 1e-3));
}
