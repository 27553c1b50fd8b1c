// What is simulated: a printed sheet, what a treatment does to it, and the scanner that looks on.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <opencv2/core.hpp>

#include "simulate/ink.hpp"

namespace inkwane::simulate {

using Polygon =
    std::vector<cv::Point2d>;  // mm on the sheet's side, from its top left as seen from that side

/// Form of a screen's dots: chess-board like (cosines), round, or chains of ellipses.
enum class DotShape { chequer, round, elliptical };

/// Lettering, set with Pango.
struct Text {
  std::string words;                  ///< UTF-8; line breaks are kept
  std::string font = "DejaVu Serif";  ///< Pango font description without size
  double size_mm = 4;                 ///< em
  double width_mm = 0;                ///< > 0: broken into lines of this width
  enum class Align { left, centre, justified } align = Align::left;
};

/// An area printed or painted with one ink. Where areas of one ink overlap the larger amount
/// counts, since one plate prints them.
struct Area {
  Polygon outline_mm;  ///< filled (even–odd), or stroked; with text: its top left, or top centre
  std::string ink;     ///< name in Scene::inks; empty: whatever was printed here before is left out
  double amount = 1;   ///< thickness relative to the ink's full solid
  double screen_lpi = 0;  ///< 0: solid, else a screen of this ruling
  double screen_angle = 45;
  double coverage = 1;  ///< of the screen, 0–1
  DotShape dot = DotShape::chequer;
  double line_mm = 0;  ///< > 0: the outline is stroked this wide, not filled
  bool closed = true;  ///< of a stroked outline
  std::vector<Polygon> holes;
  bool undeclared = false;  ///< painted on later, and nobody said so: listed in the truth
  Text text;                ///< words not empty: lettering instead of the outline
};

/// What a treatment does to one ink (or added colour): the share of its strength that is kept at a
/// stage, and how much of what it lost arrives on the other side.
struct InkFate {
  std::map<std::string, double> kept;  ///< by stage id; missing: 1
  std::map<std::string, double>
      bleeds_through;  ///< by stage id: share of the original strength that shows on the other side
  std::map<std::string, double>
      bleeds_sideways;  ///< by stage id: share that shows about its own place
};

struct Scanner {
  double dpi = 300;
  int bit_depth = 16;  ///< 8 or 16
  bool jpeg = false;   ///< quality 92, 8 bit
  bool embed_profile = true;
  double noise = 0.004;           ///< of linear light at white, grows with signal
  double point_spread_mm = 0.03;  ///< Gaussian standard deviation
  double drift = 0;  ///< 0–1: gain, offset and tone drift between scans; at 1 a standard deviation
                     ///< of 3 %, 0.002 and 3 %
  double flare_kappa = 0, flare_mm = 4;  ///< multiplicative stray light
  double veil = 0, veil_mm = 20;         ///< additive stray light
  double gradient = 0;  ///< illumination gradient across the bed, share from edge to edge
  std::array<double, 3> tone{2.2, 2.2, 2.2};  ///< encoding exponent a channel
};

struct Paper {
  double width_mm = 190, height_mm = 262;
  double texture = 0.01;         ///< standard deviation of reflectance, spatially correlated
  double show_through = 0.03;    ///< share of the other side's absorption that is seen
  double show_through_mm = 0.4;  ///< how far it is blurred, Gaussian standard deviation
  double bleed_mm = 0.6;         ///< the same of colour that moved
  double spread_mm = 0.05;  ///< how far light spreads in the paper, Gaussian standard deviation
  std::map<std::string, double>
      toning;  ///< by stage: relative change of the paper's yellowness; missing: 0
  /// By stage: share of its light that the paper lost (water in it, a dark backing); missing: 0.
  std::map<std::string, double> darkening;
  std::map<std::string, double> show_through_at;  ///< by stage, where it is not `show_through`
};

struct Deformation {  // of a stage against the first; of the first against the scanner's bed
  double stretch_x = 1, stretch_y = 1;
  double cockle_mm = 0;  ///< displacement that is rarely passed: twice its rms
  double rotation_deg = 0, shift_x_mm = 0, shift_y_mm = 0;
};

/// A dark line left where a liquid dried: a stain along a path.
struct TideMark {
  Polygon path_mm;  ///< open
  std::string side = "recto";
  std::string stage;  ///< from which on it is there
  std::string ink = "added-brown";
  double amount = 0.1;  ///< at the crest of a line much wider than its soft edges
  double width_mm = 0.8;
};

struct NamedRegion {
  std::string id, name, side, role, under;
  Polygon outline_mm;
};

/// A step of the treatment, as docs/formats.md has it.
struct Step {
  std::string kind, solution;
  double minutes = 0;
  std::string more;  ///< further keys of the step, as lines of TOML
};

struct Scene {
  std::string title, identifier, client, description;
  std::string object;  ///< further keys of [object], as lines of TOML
  std::string record;  ///< what the treatment file says of people, plan and spot tests, as TOML
  std::uint64_t seed = 1;
  InkLaw law = InkLaw::kubelka_munk;
  std::map<std::string, Ink> inks = standard_inks();
  Paper paper;
  Scanner scanner;
  std::vector<std::string> stages{"BT", "AT"};
  std::map<std::string, Deformation> deformation;  ///< by stage
  std::vector<Area> recto, verso;                  ///< printed first to last
  std::map<std::string, InkFate> fates;            ///< by ink name
  std::vector<TideMark> tide_marks;
  std::vector<NamedRegion> regions;
  std::map<std::string, std::string> dates, notes;  ///< by stage
  std::map<std::string, std::vector<Step>> steps;   ///< by stage
  std::string turn = "side";  ///< how the sheet is turned over: "side" or "top"
  bool has_verso = true;
  bool target = true;
  int target_rows = 4, target_columns = 6;
  bool target_above = false;    ///< above the sheet, not to its right
  bool target_on_grey = false;  ///< patches on a mid-grey card, not a dark one
  bool dark_backing = true;
  double target_turn_deg = 0;  ///< quarter turns and a few degrees of tilt
  int soiled_patch = -1;       ///< index row by row; −1: none
};

/// Both sides of a sheet.
inline constexpr std::array<const char*, 2> kSideNames{"recto", "verso"};

[[nodiscard]] const std::vector<Area>& areas_of(const Scene& scene, const std::string& side);
[[nodiscard]] std::string other_side(const std::string& side);
/// The place on the other side of the paper.
[[nodiscard]] cv::Point2d through_paper(const Scene& scene, cv::Point2d mm);
/// A picture of one side (any pitch that covers the whole sheet) as it lies behind the other.
[[nodiscard]] cv::Mat through_paper(const Scene& scene, const cv::Mat& picture);
/// The value of a stage, or `missing`.
[[nodiscard]] double at_stage(const std::map<std::string, double>& values, const std::string& stage,
                              double missing);

/// Its place in the order of stages; none for a stage the scene does not have.
[[nodiscard]] std::optional<std::size_t> stage_number(const Scene& scene, const std::string& stage);
/// The bare paper at a stage.
[[nodiscard]] Spectrum paper_at(const Scene& scene, const std::string& stage);

/// Throws Error(usage) that names what in the scene cannot be simulated.
void check(const Scene& scene);

}  // namespace inkwane::simulate
