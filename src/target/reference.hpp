// The target's reference file: CGATS.17 text, read with LittleCMS.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include <inkwane/colour.hpp>
#include <inkwane/treatment.hpp>

namespace inkwane::target {

/// One patch of the target as printed.
struct ReferencePatch {
  std::string id;
  LabD50 lab;
};

struct Reference {
  int rows = 0, columns = 0;
  std::vector<ReferencePatch> patches;  ///< row by row as printed, rows × columns of them
  [[nodiscard]] const ReferencePatch& at(int row, int column) const {
    return patches[static_cast<std::size_t>(row) * columns + column];
  }
};

/// The id of a patch as printed: A1 for the first of the first row, B1 below it, AA after Z.
[[nodiscard]] std::string patch_id(int row, int column);

/// SAMPLE_ID with LAB_L LAB_A LAB_B or XYZ_X XYZ_Y XYZ_Z (0–100), D50 and 2°. Ids are A1 (or a01)
/// … for row 1 column 1 …, or 1 … row by row; a file whose ids are of neither form is taken row by
/// row if it has exactly rows × columns sets. Further columns, and sets whose ids are not of the
/// form, are passed over. Throws Error(scan) that names the file and what is missing.
[[nodiscard]] Reference read_reference(const std::filesystem::path& file, int rows, int columns);

}  // namespace inkwane::target
