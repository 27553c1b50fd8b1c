// How far an assessment is from a simulated scene's truth.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include <inkwane/results.hpp>

#include "simulate/simulate.hpp"
#include "tests/pipeline/kinds.hpp"

namespace inkwane::test {

/// Errors of one figure, and where the largest was.
struct Errors {
  std::vector<double> values;
  double worst = -1;
  std::string worst_at;
  void add(double error, const std::string& where);
  void add(const Errors& other);
  operator const std::vector<double>&() const { return values; }
};

/// Errors of one or more scenes, by figure.
struct Scores {
  Errors corners_px;               ///< target corners
  Errors left_out;                 ///< the target's left-out median, one a scan
  Errors lab;                      ///< ΔE00 of a region's colour against the truth
  Errors dE00;                     ///< |ΔE00 between stages − truth|
  Errors false_change;             ///< ΔE00 between stages of what did not change
  Errors strength;                 ///< |error|, solids
  Errors one_screen, two_screens;  ///< the same of regions in one screen, and in two
  Errors residual;                 ///< |error|
  Errors alignment_mm;             ///< against the true field
  Errors difference;               ///< |map − truth| a cell
  Errors lost_ink;                 ///< |map − truth| a cell where both see ink
  Errors missed_bleed;             ///< 1 − intersection over union at ΔE00 ≥ 2, one a scene
  Errors missed_faint_bleed;       ///< the same at ΔE00 ≥ 1
  Errors bleed_area;               ///< |area ÷ truth − 1| at each level of docs/formats.md
  Errors source_share;             ///< |error| of the share of a colour that came through
  Errors false_suspects, false_tides;  ///< one a scene
  /// Whether each 95 % interval held the truth, and its half-width, by figure.
  std::map<std::string, std::vector<bool>> covered;
  std::map<std::string, std::vector<double>> half_width;
  int detectable = 0, regions = 0;       ///< regions reported as changed, of all
  int unanswered = 0;                    ///< strengths and residuals that are null
  int touches = 0, touches_found = 0;    ///< undeclared ones
  int tides = 0, tides_found = 0;        ///< of a contrast of CIEDE2000 ≥ 2
  Errors rate;                           ///< |rate of decay ÷ truth − 1|, added colours
  std::map<std::string, Errors> course;  ///< value − truth, by figure of the course
  std::map<std::string, int> advice;     ///< scenes, by "right → given"
  Errors share_above_2;                  ///< of the sheet, cells of the difference map ≥ 2

  void add(const Scores& other);
};

/// Scans the card of the scene's scanner and measures it, or makes up a scanner of no stray light
/// and typical uncertainty; the treatment beside it then names the file.
void write_scanner_file(const simulate::Scene& scene, ScannerFile kind,
                        const std::filesystem::path& scene_folder);

/// Writes the scene into `folder`/scene, assesses it into `folder`/assessment, and compares. With
/// `program` the program itself runs and its files are read; without, the library's call does.
[[nodiscard]] Scores score_scene(const simulate::Scene& scene, const std::filesystem::path& folder,
                                 const std::filesystem::path& program = {},
                                 ScannerFile scanner = ScannerFile::none);

/// Linear interpolation between order statistics; NaN for none. `q` from 0 to 1.
[[nodiscard]] double quantile(std::vector<double> values, double q);

/// A table of all figures: count, median, p95, worst, coverage, half-width. For people.
[[nodiscard]] std::string to_text(const Scores& scores);

}  // namespace inkwane::test
