// What is drawn or corrected by hand, put into the text of a treatment file.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include <inkwane/treatment.hpp>

namespace inkwane::treatment {

/// One scan of a treatment: stage id and side.
using ScanName = std::pair<std::string, Side>;

/// All of a treatment file that is drawn on scans.
struct Drawn {
  std::vector<Region> regions;
  std::map<ScanName, Corners> target_corners;
  std::map<ScanName, Corners> outlines;
  std::map<ScanName, std::vector<ControlPoint>> control_points;
};

[[nodiscard]] Drawn drawn_in(const Treatment& treatment);

/// Places are written with two decimals of a pixel.
[[nodiscard]] Drawn rounded(Drawn drawn);

/// The file's text with regions, target corners, outlines and control points as in `wanted`
/// (rounded), and not a byte of it otherwise changed: regions are told by their ids, keep their
/// order, and new ones follow the last. Parses the outcome again and compares. Throws Error(usage),
/// naming `file`, where the text or what is wanted breaks a rule of treatment files, or where the
/// text is written in a way that cannot be edited safely.
[[nodiscard]] std::string edit(const std::string& text, const std::filesystem::path& file,
                               const Drawn& wanted);

}  // namespace inkwane::treatment
