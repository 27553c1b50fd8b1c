#include <cmath>
#include <numbers>

#include <inkwane/colour.hpp>

namespace inkwane {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kTwentyFiveTo7 = 6103515625.0;  // 25⁷, of the chroma weights

constexpr double radians(double degrees) {
  return degrees * kPi / 180.0;
}

/// x⁷ / (x⁷ + 25⁷)
double saturation(double chroma) {
  const double c2 = chroma * chroma;
  const double c7 = c2 * c2 * c2 * chroma;
  return c7 / (c7 + kTwentyFiveTo7);
}

/// Hue in radians, 0 ≤ h < 2π; 0 for a neutral colour.
double hue(double a, double b) {
  if (a == 0 && b == 0) return 0;
  const double h = std::atan2(b, a);
  return h < 0 ? h + 2 * kPi : h;
}

/// a b − c d, exact but for two units in the last place, so that its sign is right (Kahan).
double difference_of_products(double a, double b, double c, double d) {
  const double right = c * d;
  return std::fma(a, b, -right) + std::fma(-c, d, right);
}

/// Hue of the second colour less that of the first, −π to π. Exactly opposite hues: h2 − h1 as the
/// numbers stand, each from 0 to 2π, so that the mean hue is (h1 + h2) / 2. Told from the colours
/// themselves: rounded angles would fall to either side.
double hue_difference(const LabD50& one, const LabD50& two, double stretch) {
  const double cross = stretch * difference_of_products(one.a, two.b, two.a, one.b);
  const double dot = stretch * stretch * one.a * two.a + one.b * two.b;
  if (cross != 0 || dot >= 0) return std::atan2(cross, dot);
  const bool upper = one.b > 0 || (one.b == 0 && one.a > 0);
  return upper ? kPi : -kPi;
}

}  // namespace

// Equation numbers of Sharma, Wu, Dalal (2005).
double ciede2000(const LabD50& one, const LabD50& two) {
  const double g = 0.5 * (1 - std::sqrt(saturation((chroma(one) + chroma(two)) / 2)));  // (2)–(4)
  const double a1 = (1 + g) * one.a, a2 = (1 + g) * two.a;                              // (5)
  const double c1 = std::hypot(a1, one.b), c2 = std::hypot(a2, two.b);                  // (6)
  const double h1 = hue(a1, one.b);                                                     // (7)
  const bool neutral = c1 * c2 == 0;

  const double dh = neutral ? 0 : hue_difference(one, two, 1 + g);  // (10)
  const double dL = two.L - one.L;                                  // (8)
  const double dC = c2 - c1;                                        // (9)
  const double dH = 2 * std::sqrt(c1 * c2) * std::sin(dh / 2);      // (11)

  // (14); without weight where either colour is neutral, since then ΔH′ is 0.
  double mean_hue = h1 + dh / 2;
  if (mean_hue < 0) mean_hue += 2 * kPi;
  if (mean_hue >= 2 * kPi) mean_hue -= 2 * kPi;
  const double mean_L = (one.L + two.L) / 2;  // (12)
  const double mean_C = (c1 + c2) / 2;        // (13)

  const double t = 1 - 0.17 * std::cos(mean_hue - radians(30)) + 0.24 * std::cos(2 * mean_hue) +
                   0.32 * std::cos(3 * mean_hue + radians(6)) -
                   0.20 * std::cos(4 * mean_hue - radians(63));  // (15)
  const double turn = (mean_hue * 180.0 / kPi - 275.0) / 25.0;
  const double rotation = radians(30) * std::exp(-turn * turn);  // (16)
  const double rc = 2 * std::sqrt(saturation(mean_C));           // (17)
  const double l50 = (mean_L - 50) * (mean_L - 50);
  const double sl = 1 + 0.015 * l50 / std::sqrt(20 + l50);  // (18)
  const double sc = 1 + 0.045 * mean_C;                     // (19)
  const double sh = 1 + 0.015 * mean_C * t;                 // (20)
  const double rt = -std::sin(2 * rotation) * rc;           // (21)

  const double l = dL / sl, c = dC / sc, h = dH / sh;
  // The quadratic form is positive definite; rounding alone can take it below zero.
  return std::sqrt(std::max(0.0, l * l + c * c + h * h + rt * c * h));  // (22)
}

}  // namespace inkwane
