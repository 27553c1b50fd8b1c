// Protects the fast mixing against the plain one, on every rung.
#include "target/mixing.hpp"

#include <cmath>
#include <limits>
#include <random>

#include <catch2/catch.hpp>

using namespace inkwane;
using namespace inkwane::target;

TEST_CASE("fast and plain mixing agree, from black to beyond white") {
  std::mt19937 random(31);
  std::uniform_real_distribution<double> weight(-1, 1), exponent(-5, 0.1);
  for (const Rung rung : {Rung::linear, Rung::root2, Rung::root3}) {
    Parameters p = Parameters::Zero();
    for (int i = 0; i < 3; ++i) p[kOffset + i] = 0.002 * weight(random);
    for (int k = 0; k < 3; ++k) {
      for (int t = 0; t < terms_of(rung); ++t) p[kMixing + k * kTerms + t] = weight(random);
    }
    constexpr std::size_t kCells = 1000;  // not a multiple of a block
    std::vector<float> light(3 * kCells), xyz(3 * kCells);
    for (float& t : light) t = static_cast<float>(std::pow(10, exponent(random)));
    light[7] = 0;
    light[8] = -0.01f;  // noise about black
    light[3 * 500 + 1] = std::numeric_limits<float>::quiet_NaN();
    Mixing(p, terms_of(rung)).apply(light.data(), xyz.data(), kCells);
    double worst = 0;
    for (std::size_t i = 0; i < kCells; ++i) {
      if (i == 500) {
        for (std::size_t c = 0; c < 3; ++c) CHECK(std::isnan(xyz[3 * i + c]));
        continue;
      }
      const XyzD50 exact =
          mix(p, Eigen::Vector3f(light[3 * i], light[3 * i + 1], light[3 * i + 2]).cast<double>());
      worst = std::max({worst, std::abs(exact.X - double(xyz[3 * i])),
                        std::abs(exact.Y - double(xyz[3 * i + 1])),
                        std::abs(exact.Z - double(xyz[3 * i + 2]))});
    }
    CAPTURE(worst);
    CHECK(worst < 5e-6);  // single precision of sums of 13 terms of size 1
  }
}
