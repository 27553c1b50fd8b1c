// The target's reference file: CGATS.17 text, read with LittleCMS.
#pragma once

#include <inkwane/colour.hpp>
#include <inkwane/treatment.hpp>

#include <filesystem>
#include <string>
#include <vector>

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

/// SAMPLE_ID with LAB_L LAB_A LAB_B or XYZ_X XYZ_Y XYZ_Z (0–100), D50 and 2°. Ids are A1 … for row
/// 1 column 1 …; a file whose ids are not of this form is taken row by row if it has exactly
/// rows × columns sets. Throws Error(scan) that names the file and what is missing.
[[nodiscard]] Reference read_reference(const std::filesystem::path& file, int rows, int columns);

}  // namespace inkwane::target
