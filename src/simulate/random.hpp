// Random numbers that are the same on every machine: the standard library's distributions are not.
#pragma once

#include <cstdint>

namespace inkwane::simulate {

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014; constants as in the reference code, from memory).
class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) {}
  /// A stream of its own for a purpose and a number.
  Random(std::uint64_t seed, std::uint64_t purpose, std::uint64_t number = 0) : state_(seed) {
    state_ = next() ^ (purpose * 0x9e3779b97f4a7c15U);
    state_ = next() ^ (number * 0xd1342543de82ef95U);
    next();
  }

  std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15U);
    z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27U)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31U);
  }

  /// 0 to 1.
  double uniform() { return static_cast<double>(next() >> 11U) * 0x1p-53; }
  double uniform(double low, double high) { return low + (high - low) * uniform(); }

  /// Close to normal, mean 0, variance 1: the sum of eight 16-bit uniforms (within ±4.9).
  float normal() {
    const std::uint64_t a = next(), b = next();
    const auto sum = [](std::uint64_t v) {
      return (v & 0xffffU) + ((v >> 16U) & 0xffffU) + ((v >> 32U) & 0xffffU) + (v >> 48U);
    };
    constexpr float kMean = 8 * 65535.0F / 2;
    constexpr float kScale = 1 / 53509.4F;  // √(8/12) · 65536
    return (static_cast<float>(sum(a) + sum(b)) - kMean) * kScale;
  }

 private:
  std::uint64_t state_;
};

}  // namespace inkwane::simulate
