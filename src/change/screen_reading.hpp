// Halftone screens in a region's pixels: whether there are any, and how strongly they stand in the
// spectrum.
#pragma once

#include <array>
#include <vector>

#include "change/lattice.hpp"
#include "change/region_pixels.hpp"

namespace inkwane::change {

inline constexpr double kLeastLpi = 45, kMostLpi = 170;  ///< rulings that are looked for
/// Finer screens, in cycles a pixel, are not looked for: near 0.5 a screen beats with the pixels.
inline constexpr double kFinest = 0.45;
inline constexpr int kMostLattices = 2;

struct Lattices {
  std::vector<Lattice> found;  ///< the strongest first, at most kMostLattices
  bool more = false;           ///< there are others besides
};

/// How one lattice stands in one stage's scan, along its two directions.
struct Peaks {
  Lattice lattice;  ///< in this scan's pixels
  /// Fourier coefficient of sharpened reflectance on the sheet, blur of scanner and pixel taken
  /// off; signed against the channel in which it stands out most.
  std::array<Eigen::Vector3d, 2> amplitude;
  std::array<Eigen::Vector3d, 2> u_amplitude;  ///< from noise
  std::array<double, 2> transfer{1, 1};        ///< of that blur, 0–1
  /// −d ln transfer / d σ, a pixel.
  std::array<double, 2> transfer_by_sigma{0, 0};
};

struct ScreenReading {
  Eigen::Vector3d mean = Eigen::Vector3d::Zero();  ///< sharpened reflectance
  std::vector<Peaks> peaks;                        ///< one a lattice
  double clipped = 0;                              ///< share of pixels
  double periods = 0;  ///< of the coarsest lattice, across the window's effective width
};

/// A region's spectrum at one stage.
class ScreenSpectrum {
 public:
  explicit ScreenSpectrum(const RegionPixels& pixels);

  /// Screens of 45 to 170 lpi: peaks far above the rest, each with a partner at 90°.
  /// `coarse_colour`: the scan is a JPEG, whose colour is stored at half the resolution, so that
  /// images of a screen about half a cycle a pixel are none. `finest`: in cycles a pixel, as
  /// kFinest.
  [[nodiscard]] Lattices find(double resolution_dpi, bool coarse_colour = false,
                              double finest = kFinest) const;
  /// `expected`: lattices in this scan's pixels; found again within what the warp may be off.
  [[nodiscard]] ScreenReading read(const std::vector<Lattice>& expected,
                                   const target::PointSpread& spread) const;

 private:
  struct Disc;
  template <typename Visit>
  void over(const Eigen::Vector2d& k, double inner, double outer, const Visit& visit) const;
  [[nodiscard]] Eigen::Vector2d refined(const Eigen::Vector2d& k, double within) const;
  [[nodiscard]] Eigen::Vector3d stands_out(const Lattice& lattice,
                                           const std::vector<Eigen::Vector2d>& other_peaks) const;
  [[nodiscard]] double disc_radius(const Eigen::Vector2d& k) const;
  [[nodiscard]] Disc disc(const Eigen::Vector2d& k,
                          const std::vector<Eigen::Vector2d>& other_peaks) const;

  std::array<cv::Mat, 3> transform_;  // CV_32FC2 of weight × (reflectance − mean)
  cv::Mat leakage_;                   // CV_32FC1: power of the weight's transform, 1 at 0
  Eigen::Vector3d mean_;
  double sum_w2_ = 0, width_px_ = 0, noise_gain_ = 0;
  double clipped_ = 0;
};

}  // namespace inkwane::change
