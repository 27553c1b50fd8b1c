// The record of a treatment, as written in treatment.toml (docs/formats.md) and checked.
#pragma once

#include <array>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <utility>
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

inline constexpr std::array<Side, 2> kSides{Side::recto, Side::verso};

[[nodiscard]] std::string to_string(Side side);
[[nodiscard]] std::string to_string(Role role);
[[nodiscard]] std::string to_string(Turn turn);

struct Object {
  std::string title, identifier, client, description;
  std::optional<double> width_mm, height_mm;
  Turn turn = Turn::side;
};

/// The outer corners of the target's first, last-in-row-1, last and first-in-last-row patch.
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
};

/// One thing done between two stages. Keys beyond `kind` are optional.
struct Step {
  std::string kind;
  std::vector<std::pair<std::string, std::string>>
      details;  ///< key and value as a person reads them, in file order
};

/// A place in this stage's scan (first) and the same place in the first stage's scan (second).
using ControlPoint = std::pair<Point, Point>;

struct Stage {
  std::string id;
  std::string date;  ///< ISO 8601, or empty
  std::string note;
  std::map<Side, std::filesystem::path> scans;  ///< absolute, or relative to the working directory
  std::map<Side, std::vector<ControlPoint>> control_points;
  std::vector<Step> steps;
};

struct Region {
  std::string id, name;
  Side side = Side::recto;
  Role role = Role::ink;
  std::string under = "paper";  ///< role `added`: "paper", or the id of an ink region
  std::vector<Point> polygon;   ///< pixels of the first stage's scan of its side
  int line = 0;                 ///< where it stands in the file, for messages
};

struct Treatment {
  std::filesystem::path file;
  Object object;
  std::optional<TargetCard> target;  ///< none: everything is uncalibrated
  Measure measure;
  std::vector<Stage> stages;
  std::vector<Region> regions;
};

/// Reads and checks a treatment file; paths become relative to the file's folder.
/// Throws Error(usage) that names the file, the line and the key; whether scans exist is not
/// checked.
[[nodiscard]] Treatment read_treatment(const std::filesystem::path& file);

}  // namespace inkwane
