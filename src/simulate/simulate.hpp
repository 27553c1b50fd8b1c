// Simulated sheets, treatments and scanners with known truth, for the demo and the tests.
// Shares no code with the measuring rooms: published formulas are written anew here.
#pragma once

#include <array>
#include <filesystem>
#include <functional>
#include <map>
#include <string>

#include <opencv2/core.hpp>

#include "simulate/scene.hpp"

namespace inkwane::simulate {

/// A tide mark as it is: its path in pixels of the first stage's scan of its side, its length, and
/// CIEDE2000 of its crest, averaged as the maps are, against what its flanks make of that place;
/// median along the path.
struct TrueTide {
  std::vector<cv::Point2d> line_px;
  double length_mm = 0, contrast_dE00 = 0;
};

struct Truth {
  /// By region id, by stage id: mean colour of the region, averaged in light.
  std::map<std::string, std::map<std::string, Lab>> lab;
  std::map<std::string, std::map<std::string, double>>
      strength_kept;  ///< ink regions, against the first stage
  std::map<std::string, std::map<std::string, double>> residual;  ///< added regions
  /// Corners of the target's patches in each scan's pixels, by "stage.side".
  std::map<std::string, std::array<cv::Point2d, 4>> target_corners;
  /// By "stage.side": the sheet's corners in that scan's pixels, from the top left clockwise.
  std::map<std::string, std::array<cv::Point2d, 4>> sheet_corners;
  /// By "stage.side": for a point of the first stage's scan (pixel), the same place of the paper in
  /// this scan.
  std::map<std::string, std::function<cv::Point2d(cv::Point2d)>> position;
  /// By "stage": for a point of that stage's verso scan (pixel), the place behind it in the recto's
  /// scan.
  std::map<std::string, std::function<cv::Point2d(cv::Point2d)>> recto_behind;
  /// By side: on a lattice of `truth_pitch_mm` over the first stage's scan (pixel origin 0): the
  /// verso's ΔE00 of what bled through (as docs/formats.md defines the map), ΔE00 between stages,
  /// share of ink lost (NaN: no ink). Both ΔE00 after averaging light with a Gaussian window of 0.5
  /// mm full width at half maximum; NaN off the sheet.
  double truth_pitch_mm = 0.2;
  std::map<std::string, cv::Mat> bleed_through, difference, lost_ink;  ///< CV_32FC1, key "side.to"
  /// By "side.to": Σ of the absorption (K/S, mean over the bands) that came through the paper, by
  /// ink.
  std::map<std::string, std::map<std::string, double>> bled;
  /// By side: outlines of undeclared areas, in pixels of the first stage's scan.
  std::map<std::string, std::vector<std::vector<cv::Point2d>>> undeclared;
  std::map<std::string, std::vector<TrueTide>> tide_marks;  ///< by "side.to"
};

/// Renders every stage and side and writes into `folder`: treatment.toml, target.txt, scans/*.tif
/// (or .jpg). Deterministic for a seed, on any number of threads. Throws Error(usage) for a scene
/// that cannot be, Error(output) where a file cannot be written.
Truth write_scene(const Scene& scene, const std::filesystem::path& folder);

/// The demo: the seed catalogue of Marlow Vale Nurseries, 1931 (invented).
[[nodiscard]] Scene demo_scene();

/// Small sheets (90 × 70 mm) for tests, in solids: original inks that fade by 0 to 40 %, added
/// colours over paper and over ink with 5 to 50 % left, bleed-through of the first added colour.
/// Strengths, colours and the treatment vary with the seed.
[[nodiscard]] Scene solids_scene(std::uint64_t seed);

/// The same in screens: six of one ink, two of two inks, and solids of the same inks.
[[nodiscard]] Scene screens_scene(std::uint64_t seed, double lpi = 85, double dpi = 300);

/// The small sheet in solids, or in screens, with six touches of added colour that no region names:
/// on paper, between the plates, over an ink, over type, and on the verso.
[[nodiscard]] Scene undeclared_scene(std::uint64_t seed, bool screens = false);

/// The small sheet in solids after a bath that left three tide marks, each side.
[[nodiscard]] Scene tidelines_scene(std::uint64_t seed);

/// Unchanged patches, and bare paper, beside and within large solids that fade by half and more.
[[nodiscard]] Scene neighbours_scene(std::uint64_t seed);

/// A sheet that nothing happened to, scanned anew after it was laid down again.
[[nodiscard]] Scene unchanged_scene(std::uint64_t seed);

}  // namespace inkwane::simulate
