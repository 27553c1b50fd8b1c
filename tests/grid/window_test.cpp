// Protects: a window averages, wherever it lies, and is as wide as its aperture says.
#include "grid/window.hpp"

#include <cmath>
#include <numeric>

#include <catch2/catch.hpp>

using namespace inkwane;
using Catch::Matchers::WithinAbs;

TEST_CASE("full width at half maximum") {
  // 2 √(2 ln 2) = 2.354820045 (any table of the normal distribution).
  CHECK_THAT(grid::sigma_of_fwhm(2.354820045), WithinAbs(1, 1e-9));
}

TEST_CASE("weights sum to one and centre on the cell") {
  const int pixels = 200;
  const auto windows = grid::make_windows(60, 1.3, 3.1, 4.0, pixels);
  REQUIRE(windows.size() == 60);
  for (std::size_t k = 0; k < windows.size(); ++k) {
    const auto& w = windows[k];
    double sum = 0, centre = 0;
    for (std::size_t i = 0; i < w.weights.size(); ++i) {
      sum += static_cast<double>(w.weights[i]);
      centre += static_cast<double>(w.weights[i]) * (w.first + static_cast<double>(i));
    }
    CHECK_THAT(sum, WithinAbs(1, 1e-5));
    CHECK(w.first >= 0);
    CHECK(w.first + static_cast<int>(w.weights.size()) <= pixels);
    const double wanted = 1.3 + 3.1 * static_cast<double>(k);
    const bool inner = wanted > 14 && wanted < pixels - 15;
    // The tails are cut at whole pixels: 0.05 % of the weight, 3.5 σ away.
    if (inner) CHECK_THAT(centre, WithinAbs(wanted, 0.01));
  }
}

TEST_CASE("a window narrower than a pixel still takes the nearest one") {
  for (const auto& w : grid::make_windows(10, 0.25, 0.5, 0.05, 5)) {
    REQUIRE_FALSE(w.weights.empty());
    CHECK_THAT(static_cast<double>(std::accumulate(w.weights.begin(), w.weights.end(), 0.0F)),
               WithinAbs(1, 1e-6));
  }
}
