// Simulated sheets, treatments and scanners with known truth, for the demo and the tests.
// Shares no code with the measuring rooms: published formulas are written anew here.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

namespace inkwane::simulate {

enum class InkLaw { kubelka_munk, beer_lambert };

using Lab = std::array<double, 3>;       // CIELAB D50, 2°
using Polygon = std::vector<cv::Point2d>;  // mm on the sheet's side, from its top left as seen from that side

/// An area printed or painted with one ink.
struct Area {
  Polygon outline_mm;
  std::string ink;         ///< name in Scene::inks
  double amount = 1;       ///< thickness relative to the ink's full solid
  double screen_lpi = 0;   ///< 0: solid, else a screen of this ruling
  double screen_angle = 45;
  double coverage = 1;     ///< of the screen, 0–1
};

/// What a treatment does to one ink (or added colour): the share of its strength that is kept at a
/// stage, and how much of what it lost arrives on the other side.
struct InkFate {
  std::map<std::string, double> kept;           ///< by stage id; missing: 1
  std::map<std::string, double> bleeds_through;  ///< by stage id: share of the original strength that shows on the other side
};

struct Scanner {
  double dpi = 300;
  int bit_depth = 16;
  bool jpeg = false;
  bool embed_profile = true;
  double noise = 0.004;             ///< of linear light at white, grows with signal
  double point_spread_mm = 0.03;    ///< Gaussian standard deviation
  double drift = 0;                 ///< 0–1: gain, offset and tone drift between stages
  double flare_kappa = 0, flare_mm = 4;  ///< multiplicative stray light
  double veil = 0, veil_mm = 20;    ///< additive stray light
  double gradient = 0;              ///< illumination gradient across the bed, share
  std::array<double, 3> tone{2.2, 2.2, 2.2};  ///< encoding exponent a channel
};

struct Paper {
  double width_mm = 190, height_mm = 262;
  double texture = 0.01;       ///< of reflectance, spatially correlated
  double show_through = 0.03;
  std::map<std::string, double> toning;  ///< by stage: change of the paper's yellowness; missing: 0
};

struct Deformation {            // of a stage against the first
  double stretch_x = 1, stretch_y = 1;
  double cockle_mm = 0;
  double rotation_deg = 0, shift_x_mm = 0, shift_y_mm = 0;
};

struct NamedRegion {
  std::string id, name, side, role, under;
  Polygon outline_mm;
};

struct Scene {
  std::string title, identifier;
  std::uint64_t seed = 1;
  InkLaw law = InkLaw::kubelka_munk;
  Paper paper;
  Scanner scanner;
  std::vector<std::string> stages{"BT", "AT"};
  std::map<std::string, Deformation> deformation;  ///< by stage
  std::vector<Area> recto, verso;                  ///< printed first to last
  std::map<std::string, InkFate> fates;            ///< by ink name
  std::vector<NamedRegion> regions;
  bool target = true;
  bool dark_backing = true;
  double target_turn_deg = 0;        ///< quarter turns and a few degrees of tilt
  int soiled_patch = -1;
};

struct Truth {
  /// By region id, by stage id: mean colour of the region, averaged in light.
  std::map<std::string, std::map<std::string, Lab>> lab;
  std::map<std::string, std::map<std::string, double>> strength_kept;  ///< ink regions, against the first stage
  std::map<std::string, std::map<std::string, double>> residual;       ///< added regions
  /// Corners of the target's patches in each scan's pixels, by "stage.side".
  std::map<std::string, std::array<cv::Point2d, 4>> target_corners;
  /// By "stage.side": for a point of the first stage's scan (pixel), the same place of the paper in this scan.
  std::map<std::string, std::function<cv::Point2d(cv::Point2d)>> position;
  /// By side: on a lattice of `truth_pitch_mm` over the first stage's scan (pixel origin 0): the verso's
  /// ΔE00 of what bled through (as docs/formats.md defines the map), ΔE00 between stages, share of ink lost (NaN: no ink).
  double truth_pitch_mm = 0.2;
  std::map<std::string, cv::Mat> bleed_through, difference, lost_ink;  ///< CV_32FC1, key "side.to"
};

/// Renders every stage and side and writes into `folder`: treatment.toml, target.txt, scans/*.tif
/// (or .jpg). Deterministic for a seed.
Truth write_scene(const Scene& scene, const std::filesystem::path& folder);

/// The demo: the seed catalogue of Marlow Vale Nurseries, 1931 (invented).
[[nodiscard]] Scene demo_scene();

}  // namespace inkwane::simulate
