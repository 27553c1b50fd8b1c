// Protects the cell's Fourier coefficients, against closed forms.
#include "change/screen_cell.hpp"

#include <cmath>
#include <numbers>

#include <catch2/catch.hpp>

using namespace inkwane::change;
using Catch::Matchers::WithinAbs;
using std::numbers::pi;

TEST_CASE("a chess-board's coefficients are those of its lozenge") {
  // cos + cos > 0 is |x| + |y| < ½: its fundamental is 2 / π².
  const Cell cell = CellTable(0, DotForm::cosines, 1).at(0.5);
  CHECK_THAT(cell.p00, WithinAbs(1, 1e-3));
  // Products of samples that the edge cuts fall short, where light does not spread at all.
  CHECK_THAT(cell.q00, WithinAbs(0.5, 0.012));
  CHECK_THAT(cell.p1, WithinAbs(4 / (pi * pi), 2e-3));
  CHECK_THAT(cell.q1, WithinAbs(2 / (pi * pi), 4e-3));
  CHECK_THAT(cell.along, WithinAbs(1, 1e-6));
}

TEST_CASE("a round dot's fundamental is r J1(2 pi r)") {
  for (const double coverage : {0.1, 0.2, 0.4, 0.7}) {
    for (const double spread : {0.0, 0.15}) {
      const double r = std::sqrt(coverage / pi);
      const double m = r * std::cyl_bessel_j(1.0, 2 * pi * r);
      const Cell cell = CellTable(spread, DotForm::round, 1).at(coverage);
      CAPTURE(coverage, spread);
      CHECK_THAT(cell.p00, WithinAbs(2 * coverage, 1e-3));
      CHECK_THAT(cell.p1, WithinAbs(m * (1 + std::exp(-2 * pi * pi * spread * spread)), 2e-3));
      if (spread == 0) CHECK_THAT(cell.q1, WithinAbs(m, 4e-3));
    }
  }
}

TEST_CASE("light that spreads over many cells sees each way apart") {
  const Cell cell = CellTable(3, DotForm::cosines, 1).at(0.3);
  CHECK_THAT(cell.q00, WithinAbs(0.09, 1e-3));  // m ⊗ g is the coverage everywhere
}

TEST_CASE("what the dots absorb follows from amplitude over mean, and back") {
  const Cell cell = CellTable(0.17, DotForm::cosines, 1).at(0.45);
  for (const double u : {0.0, 0.05, 0.4, 0.8}) {
    CHECK_THAT(cell.absorbed(cell.amplitude(u) / cell.mean(u)), WithinAbs(u, 1e-9));
  }
  CHECK(cell.absorbed(100) > 0.9);  // beyond black
}

TEST_CASE("ellipses have unequal directions") {
  CHECK(std::abs(std::log(CellTable(0.1, DotForm::cosines, 0.6).at(0.4).along)) > 0.3);
}
