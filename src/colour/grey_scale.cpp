#include "colour/grey_scale.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace inkwane::colour {
namespace {

double squared(double value) {
  return value * value;
}

/// h_M of ISO 105-A05 clause 7.2: the middle of the shorter way from one hue to the other, degrees.
double mean_hue(double one, double two) {
  const double middle = (one + two) / 2;
  if (std::abs(one - two) <= 180) return middle;
  return one + two < 360 ? middle + 180 : middle - 180;
}

}  // namespace

double grey_scale_difference(const LabD50& before, const LabD50& after) {
  const double one = chroma(before), two = chroma(after), mean = (one + two) / 2;
  const double hue = mean_hue(hue_degrees(before), hue_degrees(after));
  const double apart = std::abs(hue - 280);
  const double x = squared((apart > 180 ? 360 - apart : apart) / 30);
  const double from_chroma = (two - one) * mean * std::exp(-x) / 100;
  const double dC = (two - one - from_chroma) / (1 + squared(20 * mean / 1000));
  const double dH = (delta_hue(before, after) - from_chroma) / (1 + squared(10 * mean / 1000));
  return std::hypot(after.L - before.L, dC, dH);
}

double grade_of_change(const LabD50& before, const LabD50& after) {
  const double difference = grey_scale_difference(before, after);
  const double grade = difference <= 3.4 ? 5 - difference / 1.7 : 5 - std::log2(difference / 0.85);
  return std::max(1.0, grade);
}

double grade_of_staining(const LabD50& before, const LabD50& after) {
  const double dL = after.L - before.L;
  const double total = std::hypot(dL, after.a - before.a, after.b - before.b);
  const double stain = total - 0.4 * std::sqrt(std::max(0.0, squared(total) - squared(dL)));
  const double strong = stain > 0 ? 6.1 - 1.45 * std::log(stain) : 5;
  return std::max(1.0, strong > 4 ? 5 - 0.23 * stain : strong);
}

std::string half_grade(double grade) {
  static const std::array<std::string, 9> names{"1",   "1–2", "2",   "2–3", "3",
                                                "3–4", "4",   "4–5", "5"};
  const auto half = static_cast<int>(std::lround(2 * std::clamp(grade, 1.0, 5.0)));
  return names[static_cast<std::size_t>(half - 2)];
}

}  // namespace inkwane::colour
