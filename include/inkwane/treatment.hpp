// The record of a treatment, as written in treatment.toml (docs/formats.md) and checked.
#pragma once

#include <array>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace inkwane {

/// A place in a scan: pixels as displayed, the centre of the top-left pixel is (0, 0).
struct Point {
  double x = 0, y = 0;
};

enum class Side { recto, verso };
enum class Role { ink, added, paper, watch };
/// How the sheet is turned over from recto to verso: like a page, or head over foot.
enum class Turn { side, top };
/// Of the sheet while it was scanned; damp and wet scans are not to be compared with dry ones.
enum class Condition { dry, damp, wet };

inline constexpr std::array<Side, 2> kSides{Side::recto, Side::verso};

[[nodiscard]] std::string to_string(Side side);
[[nodiscard]] std::string to_string(Role role);
[[nodiscard]] std::string to_string(Turn turn);
[[nodiscard]] std::string to_string(Condition condition);

struct Object {
  std::string title, identifier, client, description;
  std::optional<double> width_mm, height_mm;
  Turn turn = Turn::side;
  std::string maker, owner, marks;
};

/// What the profession's codes ask of a record beside what was done (AIC Guidelines for Practice,
/// Commentaries 24 to 28; E.C.C.O. Code of Ethics, Arts. 8 to 10). All in the person's own words.
struct Record {
  std::string conservator, purpose, condition_before, past_treatment;
  std::string plan;          ///< what was agreed
  std::string consent_by;    ///< who agreed to it
  std::string consent_date;  ///< ISO 8601
  std::string variations;    ///< from the plan, and why
};

/// A drop of a liquid on one medium, before the sheet meets the liquid.
struct SpotTest {
  std::string medium, liquid;
  std::string region;  ///< id of the region it was made in, or empty
  std::string place;   ///< in words
  std::optional<double> ph, dwell_minutes;
  std::string seen_on_sheet, seen_on_blotter;
  std::string when, who, note;
};

/// Four corners in a scan: of the target, the outer ones of its first, last-in-row-1, last and
/// first-in-last-row patch; of a sheet, from its top left clockwise.
using Corners = std::array<Point, 4>;

/// More rows or columns of patches than any chart has: a slip, not a target.
inline constexpr int kMostTargetRows = 40;

struct TargetCard {
  std::filesystem::path reference;
  int rows = 4, columns = 6;
  /// Corners given by hand, by stage id and side.
  std::map<std::pair<std::string, Side>, Corners> corners;
};

struct Measure {
  double aperture_mm = 0.5;  ///< full width at half maximum of the averaging window
  double grid_mm = 0.1;      ///< pitch of the measuring grid
  /// Scans of one untreated sheet with the target, two or more, that tell how well scans repeat; or
  /// none.
  std::vector<std::filesystem::path> repeat;
  std::optional<std::filesystem::path> scanner;  ///< what `inkwane scanner` wrote
};

/// One key of a step and what stands for it; the key carries the unit ("stock_ml").
struct Detail {
  std::string key;
  std::variant<double, std::string> value;
  friend bool operator==(const Detail&, const Detail&) = default;
};

/// The detail as a person reads it: "stock", "100 mL".
[[nodiscard]] std::pair<std::string, std::string> in_words(const Detail& detail);

/// One thing done between two stages. Keys beyond `kind` are optional; which ones a kind may have
/// stands in docs/formats.md.
struct Step {
  std::string kind;
  std::vector<Detail> details;  ///< in the order of docs/formats.md

  [[nodiscard]] std::optional<double> number(std::string_view key) const;
  [[nodiscard]] std::optional<std::string> text(std::string_view key) const;
};

/// Irradiance times time of a step of light, J/cm²; none where either is missing.
[[nodiscard]] std::optional<double> dose_j_per_cm2(const Step& step);

/// A place in this stage's scan (first) and the same place in the first stage's scan (second).
using ControlPoint = std::pair<Point, Point>;

struct Stage {
  std::string id;
  std::string date;  ///< ISO 8601, or empty
  std::string note;
  std::string kind;  ///< "before", "during", "after" or "follow-up", or empty
  Condition condition = Condition::dry;
  std::string dried;                            ///< when the sheet had dried, ISO 8601, or empty
  std::map<Side, std::filesystem::path> scans;  ///< absolute, or relative to the working directory
  std::map<Side, Corners> outlines;  ///< the sheet's corners given by hand, in this stage's scan
  /// Further scans of a side at this stage, to be averaged with the first.
  std::map<Side, std::vector<std::filesystem::path>> repeats;
  std::map<Side, std::vector<ControlPoint>> control_points;
  std::vector<Step> steps;
};

struct Region {
  std::string id, name;
  Side side = Side::recto;
  Role role = Role::ink;
  std::string under = "paper";  ///< role `added`: "paper", or the id of an ink region
  bool untouched = false;       ///< nothing was done there: what changes is the scanner's
  std::vector<Point> polygon;   ///< pixels of the first stage's scan of its side
  int line = 0;                 ///< where it stands in the file, for messages
};

/// A scan of a blotter that lay on the sheet before one of the stages.
struct BlotterScan {
  std::string id, stage, note;
  std::filesystem::path scan;
  bool has_target = true;  ///< false: none in the scan; the stage's own calibration is taken
  std::vector<Point>
      polygon;               ///< what to measure, in pixels of its scan; empty: all of the blotter
  std::vector<Point> blank;  ///< a part of it that lifted nothing
};

struct Treatment {
  std::filesystem::path file;
  Object object;
  std::optional<TargetCard> target;  ///< none: everything is uncalibrated
  Measure measure;
  Record record;
  std::vector<Stage> stages;
  std::vector<Region> regions;
  std::vector<SpotTest> spot_tests;
  std::vector<BlotterScan> blotters;
};

/// Reads and checks a treatment file; paths become relative to the file's folder.
/// Throws Error(usage) that names the file, the line and the key; whether scans exist is not
/// checked.
[[nodiscard]] Treatment read_treatment(const std::filesystem::path& file);
/// The same of a text that stands, or is to stand, in `file`.
[[nodiscard]] Treatment parse_treatment(const std::string& text, const std::filesystem::path& file);

}  // namespace inkwane
