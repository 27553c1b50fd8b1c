// A flatbed scanner: what its sensors make of spectra, and what its optics and electronics add.
#pragma once

#include <cstdint>
#include <vector>

#include "simulate/scene.hpp"

namespace inkwane::simulate {

/// Sensor response of a white diffuser; below 1, so that nothing on the bed clips.
inline constexpr double kExposure = 0.95;

/// Weights of each band for R, G and B, lamp included; a reflectance of 1 gives kExposure. No
/// linear combination of them is the eye's: the scanner sees some spectra alike that differ.
[[nodiscard]] const std::array<Spectrum, 3>& sensor_weights();

/// What differs from scan to scan of one scanner.
struct ScanState {
  std::uint64_t number = 0;  ///< of the scan; 0 has no drift
  std::array<double, 3> gain{1, 1, 1}, offset{0, 0, 0}, tone{2.2, 2.2, 2.2};
};
[[nodiscard]] ScanState scan_state(const Scene& scene, const std::string& stage,
                                   const std::string& side);

/// Stray light, gradient, drift, noise and tone encoding. `light`: CV_32FC3, linear R G B of the
/// whole scan, already spread by the optics; used up. Returns CV_16UC3.
[[nodiscard]] cv::Mat record(cv::Mat light, const Scene& scene, const ScanState& state);

/// The scanner's ICC profile: matrix and tone curves, description "Simulated flatbed".
[[nodiscard]] std::vector<std::uint8_t> scanner_profile(const Scene& scene);

/// Matrix from the scanner's linear R G B (white diffuser at 1) to XYZ D50, row by row: least
/// squares over the target and the inks, white kept.
[[nodiscard]] std::array<std::array<double, 3>, 3> profile_matrix(const Scene& scene);

}  // namespace inkwane::simulate
