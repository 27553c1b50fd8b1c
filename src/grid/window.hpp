// Gaussian averaging windows that carry a line of pixels onto a line of cells.
#pragma once

#include <vector>

namespace inkwane::grid {

/// Standard deviation of a Gaussian of this full width at half maximum: FWHM / (2 √(2 ln 2)).
[[nodiscard]] double sigma_of_fwhm(double fwhm);

/// The pixels that one cell averages, and their weights, which sum to 1.
struct Window {
  int first = 0;               ///< number of the first pixel
  std::vector<float> weights;  ///< of pixels first, first + 1, …
};

/// One window a cell along one axis. Cell k is centred on pixel `origin + pitch k`; the Gaussian
/// has standard deviation `sigma_px` and is cut at 3.5 σ, where 0.05 % of its weight lies beyond.
/// At the edges of the scan the weight of the pixels that are there is scaled up to 1.
[[nodiscard]] std::vector<Window> make_windows(int cells, double origin, double pitch,
                                               double sigma_px, int pixels);

}  // namespace inkwane::grid
