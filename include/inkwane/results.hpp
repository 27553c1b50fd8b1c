// What an assessment found: the record behind results.json (docs/formats.md), field for field.
// A number that could not be had is std::nullopt, and null in the file.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <inkwane/colour.hpp>
#include <inkwane/course.hpp>
#include <inkwane/findings.hpp>
#include <inkwane/treatment.hpp>

namespace inkwane::results {

struct Patch {
  std::string id;
  LabD50 reference_lab, fitted_lab;
  double left_out_dE00 = 0;
};

struct Target {
  Corners corners_px;
  std::string model;
  std::vector<Patch> patches;
  double left_out_dE00_median = 0, left_out_dE00_p95 = 0, left_out_dE00_max = 0;
};

struct Registration {
  std::string to;  ///< stage id
  Number residual_mm_median, residual_mm_p95;
  double stretch_x = 1, stretch_y = 1;
};

struct Scan {
  std::string stage;
  Side side = Side::recto;
  std::string file, sha256;
  int width_px = 0, height_px = 0, bit_depth = 0;
  double resolution_dpi = 0;
  std::string profile;         ///< description of the embedded profile, or "none"
  std::string profile_sha256;  ///< of the embedded profile; empty: none
  int repeat = 0;  ///< 1, 2, … where the side was scanned several times at this stage; 0: once
  std::optional<Target> target;
  std::optional<Registration> registration;
  std::vector<std::string> warnings;
};

struct RegionStage {
  LabD50 lab, u_lab;  ///< mean colour, and the standard uncertainty (k = 1) of each component
};

struct RegionChange {
  std::string from, to;
  Number dE00;
  Interval dE00_ci95;
  std::optional<bool> detectable;
  Number dL, da, db, dC, dH;
  Number strength_kept;  ///< role ink
  Interval strength_kept_ci95;
  Number residual;  ///< role added
  Interval residual_ci95;
  Number contrast_dE00;
  /// Grey-scale grade, 5 (none) to 1: for staining where the role is watch (ISO 105-A04), else for
  /// change in colour (ISO 105-A05).
  Number grey_scale;
  std::vector<std::string> warnings;
};

/// A halftone screen in a region's print.
struct Screen {
  double lpi = 0;        ///< ruling at the first stage
  double angle_deg = 0;  ///< of the rows of dots in the first stage's scan, 0–90
  Number coverage;       ///< share of the cell under the dots
};

struct Region {
  std::string id, name;
  Side side = Side::recto;
  Role role = Role::ink;
  bool untouched = false;
  double area_mm2 = 0;
  std::string under;            ///< role added: "paper", or the id of an ink region
  std::vector<Point> polygon;   ///< pixels of the first stage's scan of its side
  std::vector<Screen> screens;  ///< role ink
  std::vector<std::pair<std::string, RegionStage>>
      stages;  ///< by stage id, in the treatment's order
  std::vector<RegionChange> changes;
  std::vector<std::string> warnings;
};

struct LostInk {
  double area_mm2 = 0, share = 0;
  Number mean_kept;
};
struct ColourArea {
  double area_mm2 = 0, share = 0;
  Number mean_dE00;  ///< over the cells counted in area_mm2
};
struct Source {
  LabD50 lab;
  double share = 0;
};
/// How much of the sheet lies at or above one CIEDE2000.
struct AreaAbove {
  double dE00 = 0, area_mm2 = 0, share = 0;
};
struct BleedThrough {
  ColourArea area;
  std::vector<AreaAbove> above;  ///< at CIEDE2000 1, 2 and 5
  std::vector<Source> sources;
};

struct SideChange {
  std::string from, to;
  double sheet_mm2 = 0;
  LostInk lost_ink;
  ColourArea gained_colour;
  std::vector<AreaAbove> gained_above;        ///< at CIEDE2000 1, 2 and 5
  std::optional<BleedThrough> bleed_through;  ///< verso
  std::vector<std::string> warnings;
};

struct SideResult {
  std::vector<SideChange> changes;
};

struct Map {
  std::string kind;
  Side side = Side::recto;
  std::string from, to;
  std::string png, tiff;  ///< relative to the assessment's folder; png empty: none
  std::string unit;
  double pitch_px = 1;
  Point origin_px;
  /// The same without words: over the faded scan, and alone on nothing; empty: none. Both lie as
  /// the side's images do.
  std::string plain, overlay;
};

/// Stray light of the scanner, in all scans alike (docs/method.md, "Stray light").
struct StrayLight {
  enum class Source { card, scans, none } source = Source::none;
  std::string file;  ///< of the card's measures
  double kappa = 0;  ///< what was corrected; 0: nothing
  double u_kappa = 0, length_mm = 0, u_length_mm = 0;
};

struct Sheet {
  Turn turn = Turn::side;
  std::optional<Turn> turn_seen;
  Number pairing_mm;
};

/// How well scans repeat, where that was measured.
struct Repeatability {
  std::string from;   ///< "repeat scans", "repeat scans of another sheet", "untouched regions"
  double u_dE00 = 0;  ///< standard uncertainty of one scan's own error, ΔE00 a component
  int degrees_of_freedom = 0;
  std::vector<std::pair<std::string, std::string>> files;  ///< of another sheet: file, SHA-256
};

/// The table of regions as it was, so that a later reader can tell regions drawn afterwards.
struct RegionsStamp {
  std::string sha256;    ///< of the regions' canonical text (docs/formats.md)
  std::string modified;  ///< when the file that holds them was last changed, ISO 8601, UTC
  /// The same of earlier assessments in the same folder whose regions were others, newest last.
  std::vector<std::pair<std::string, std::string>> earlier;
};

/// Where the pixels of a picture lie: pixel (i, j) is centred on pixel origin_px + pitch_px (i, j)
/// of the first stage's scan of its side.
struct Frame {
  int columns = 0, rows = 0;
  Point origin_px;
  double pitch_px = 1, pitch_mm = 0.1;
};

/// An aligned sRGB picture of one side at one stage, for the report.
struct Image {
  std::string stage;
  Side side = Side::recto;
  std::string file;  ///< relative to the assessment's folder
  Frame frame;
};

/// A region and what lies about it, cut from an aligned picture or a map.
struct Crop {
  std::string region;
  std::string stage;     ///< of a picture; empty: of a map
  std::string map_kind;  ///< of a map, of the stages below
  std::string from, to;
  std::string file;
  Frame frame;
};

/// Colours and change of colour of one side on a coarse grid, to be read off in the report: `file`
/// holds the planes of docs/formats.md, "Read-out".
struct Readout {
  Side side = Side::recto;
  std::string from, to;
  std::string file;
  Frame frame;
};

struct Results {
  std::string version;
  std::string treatment_sha256;  ///< of the treatment file; empty where there was none
  Object object;
  Record record;
  std::vector<Stage> stages;
  std::vector<SpotTest> spot_tests;
  double aperture_mm = 0.5, grid_mm = 0.1;
  bool calibrated = false;
  StrayLight stray_light;
  std::vector<std::string> warnings;
  Sheet sheet;
  std::optional<Repeatability> repeatability;
  RegionsStamp regions_stamp;
  std::vector<Scan> scans;
  std::vector<Region> regions;
  std::map<Side, SideResult> sides;
  std::vector<Map> maps;
  std::vector<Image> images;
  std::vector<Crop> crops;
  std::vector<Readout> readouts;
  Findings findings;
  std::optional<Course> course;  ///< from two stages on
  bool doubtful = false;         ///< exit code 1
};

}  // namespace inkwane::results
