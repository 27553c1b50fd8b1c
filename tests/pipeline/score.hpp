// How far an assessment is from a simulated scene's truth.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include <inkwane/results.hpp>

#include "simulate/simulate.hpp"

namespace inkwane::test {

/// Errors of one or more scenes, by figure.
struct Scores {
  std::vector<double> corners_px;          ///< target corners
  std::vector<double> left_out;            ///< the target's left-out median, one a scan
  std::vector<double> lab;                 ///< ΔE00 of a region's colour against the truth
  std::vector<double> dE00;                ///< |ΔE00 between stages − truth|
  std::vector<double> strength, residual;  ///< |error|
  /// Of `strength`, the regions in which one screen was found, and two.
  std::vector<double> strength_of_one_screen, strength_of_two;
  std::vector<double> alignment_mm;  ///< against the true field
  std::vector<double> difference;    ///< |map − truth| a cell
  std::vector<double> lost_ink;      ///< |map − truth| a cell where both see ink
  std::vector<double> bleed_iou;     ///< at ΔE00 ≥ 2, one a scene
  /// Whether each 95 % interval held the truth, and its half-width, by figure.
  std::map<std::string, std::vector<bool>> covered;
  std::map<std::string, std::vector<double>> half_width;
  int detectable = 0, regions = 0;    ///< regions reported as changed, of all
  std::vector<double> share_above_2;  ///< of the sheet, cells of the difference map ≥ 2

  void add(const Scores& other);
};

/// Writes the scene into `folder`/scene, assesses it into `folder`/assessment, and compares.
[[nodiscard]] Scores score_scene(const simulate::Scene& scene, const std::filesystem::path& folder);

/// Linear interpolation between order statistics; NaN for none. `q` from 0 to 1.
[[nodiscard]] double quantile(std::vector<double> values, double q);

/// A table of all figures: count, median, p95, worst, coverage, half-width. For people.
[[nodiscard]] std::string to_text(const Scores& scores);

}  // namespace inkwane::test
