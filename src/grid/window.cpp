#include "grid/window.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace inkwane::grid {

double sigma_of_fwhm(double fwhm) {
  return fwhm / (2 * std::sqrt(2 * std::numbers::ln2));
}

std::vector<Window> make_windows(int cells, double origin, double pitch, double sigma_px,
                                 int pixels) {
  constexpr double kCut = 3.5;
  std::vector<Window> windows(static_cast<std::size_t>(cells));
  for (int k = 0; k < cells; ++k) {
    Window& window = windows[static_cast<std::size_t>(k)];
    const double centre = origin + pitch * k;
    window.first = std::clamp(static_cast<int>(std::ceil(centre - kCut * sigma_px)), 0, pixels - 1);
    const int last = std::clamp(static_cast<int>(std::floor(centre + kCut * sigma_px)),
                                window.first, pixels - 1);
    double sum = 0;
    std::vector<double> weights;
    for (int pixel = window.first; pixel <= last; ++pixel) {
      const double distance = (pixel - centre) / sigma_px;
      weights.push_back(std::exp(-distance * distance / 2));
      sum += weights.back();
    }
    for (const double weight : weights) window.weights.push_back(static_cast<float>(weight / sum));
  }
  return windows;
}

}  // namespace inkwane::grid
