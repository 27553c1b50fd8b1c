// A number with its range, as the bath and light rooms state every result.
#pragma once

#include <cmath>
#include <initializer_list>

namespace inkwane::bath {

/// A value and the ends of the range that is meant to hold the true one in 19 cases of 20.
struct Estimate {
  double value = 0, low = 0, high = 0;
};

/// `relative`: half the range as a share of the value, 0.08 for ±8 %.
[[nodiscard]] inline Estimate within_share(double value, double relative) {
  return {value, value * (1 - relative), value * (1 + relative)};
}

/// `half`: half the range, in the value's unit.
[[nodiscard]] inline Estimate within(double value, double half) {
  return {value, value - half, value + half};
}

/// Half ranges of independent causes taken together: the root of the sum of squares (JCGM
/// 100, 5.1).
[[nodiscard]] inline double together(std::initializer_list<double> halves) {
  double squares = 0;
  for (const double half : halves) squares += half * half;
  return std::sqrt(squares);
}

}  // namespace inkwane::bath
