// One cell of a halftone screen: how light that spreads in the paper sees a dot of some coverage.
#pragma once

#include <vector>

namespace inkwane::change {

/// Form of the dots. `aspect` of the cosine form below 1 makes chains of ellipses.
enum class DotForm { cosines, round };

/// Fourier coefficients of a dot m (1 where there is ink) on its cell, and of what light sees of it
/// on the way in and out, m′ = m ⊗ g: P = m + m′, Q = m m′. A dot that passes 1 − u of the light
/// each way has reflectance 1 − u P + u² Q against its background (Yule and Nielsen's effect by a
/// point spread, after Ruckdeschel and Hauser, Appl. Opt. 17(21), 1978, from memory).
struct Cell {
  double coverage = 0;
  double p00 = 0, q00 = 0;  ///< means over the cell
  double p1 = 0, q1 = 0;    ///< fundamental, mean of the two directions
  double along = 1;         ///< fundamental of m along the first direction ÷ along the second

  /// Mean reflectance of the cell against its background.
  [[nodiscard]] double mean(double u) const { return 1 - u * p00 + u * u * q00; }
  /// Fundamental of the reflectance, likewise.
  [[nodiscard]] double amplitude(double u) const { return u * p1 - u * u * q1; }
  /// The u of which amplitude ÷ mean is `ratio` (rising branch); the largest there is where the
  /// ratio is beyond it.
  [[nodiscard]] double absorbed(double ratio) const;
};

/// Cells over coverage, made once for a screen.
class CellTable {
 public:
  /// `spread`: standard deviation of the light's spread, in periods of the screen.
  CellTable(double spread, DotForm form, double aspect);
  /// Linear between the cells; coverage is held to kLeastCoverage … kMostCoverage.
  [[nodiscard]] Cell at(double coverage) const;

 private:
  std::vector<Cell> cells_;  // by rising coverage
};

inline constexpr double kLeastCoverage = 0.03, kMostCoverage = 0.985;

}  // namespace inkwane::change
