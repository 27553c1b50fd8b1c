#include "target/reference.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <fstream>
#include <iterator>
#include <map>
#include <memory>
#include <optional>
#include <string_view>

#include <fmt/core.h>

#include <inkwane/error.hpp>

#include "colour/lcms_context.hpp"

namespace inkwane::target {
namespace {

/// A reference file is a page of text; anything larger is another file given by mistake.
constexpr std::size_t kMaxBytes = 16u << 20;

[[noreturn]] void refuse(const std::filesystem::path& file, const std::string& what) {
  throw Error(ExitCode::scan, fmt::format("{}: {}", file.string(), what));
}

std::string load(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in || std::filesystem::is_directory(file)) {
    refuse(file,
           "the target's reference file cannot be read; check the path in [target] reference");
  }
  std::string text;
  text.assign(std::istreambuf_iterator<char>(in), {});
  if (text.empty()) refuse(file, "the target's reference file is empty");
  if (text.size() > kMaxBytes) refuse(file, "is too large for a target's reference file");
  if (text.starts_with("\xef\xbb\xbf")) text.erase(0, 3);  // byte order mark
  return text;
}

/// Row and column of an id of the form A1, a01, AB12; counted from 0.
std::optional<std::pair<int, int>> place_of(std::string_view id) {
  int row = 0;
  std::size_t i = 0;
  for (; i < id.size() && i < 2 && std::isalpha(static_cast<unsigned char>(id[i])); ++i) {
    row = row * 26 + (std::toupper(static_cast<unsigned char>(id[i])) - 'A' + 1);
  }
  int column = 0;
  const auto [end, error] = std::from_chars(id.data() + i, id.data() + id.size(), column);
  if (i == 0 || error != std::errc() || end != id.data() + id.size() || column < 1) return {};
  return std::pair{row - 1, column - 1};
}

std::optional<int> number_of(std::string_view id) {
  int n = 0;
  const auto [end, error] = std::from_chars(id.data(), id.data() + id.size(), n);
  if (error != std::errc() || end != id.data() + id.size()) return {};
  return n;
}

/// One table of the file, as far as it is needed.
class Table {
 public:
  Table(const std::filesystem::path& file, const std::string& text)
      : file_(file),
        it8_(cmsIT8LoadFromMem(context_.get(), text.data(),
                               static_cast<cmsUInt32Number>(text.size())),
             cmsIT8Free) {
    if (!it8_) {
      refuse(file_, fmt::format("is not a readable CGATS.17 table ({}); export the target's "
                                "reference values as CGATS text",
                                context_.complaint("no reason given")));
    }
    for (cmsUInt32Number t = 0; t < cmsIT8TableCount(it8_.get()); ++t) {
      cmsIT8SetTable(it8_.get(), t);
      if (choose_columns()) return;
    }
    refuse(file_,
           "has no SAMPLE_ID with LAB_L LAB_A LAB_B or XYZ_X XYZ_Y XYZ_Z; export the target's "
           "reference values with these columns");
  }

  [[nodiscard]] int sets() const {
    return static_cast<int>(std::lround(cmsIT8GetPropertyDbl(it8_.get(), "NUMBER_OF_SETS")));
  }
  [[nodiscard]] std::string id(int set) const { return cell(set, id_); }
  [[nodiscard]] LabD50 lab(int set) const {
    std::array<double, 3> v{};
    for (int c = 0; c < 3; ++c) v[c] = number(set, c);
    if (!is_xyz_) return {v[0], v[1], v[2]};
    return to_lab({v[0] / 100, v[1] / 100, v[2] / 100});
  }

  /// Lab against another white or observer would be wrong by more than the scanner is.
  void check_conditions() const {
    for (const char* key : {"WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE", "ILLUMINANT", "OBSERVER"}) {
      const char* value = cmsIT8GetProperty(it8_.get(), key);
      if (!value) continue;
      const std::string_view text(value);
      for (const char* other : {"D65", "D55", "D75", "10 deg", "10deg", "=10"}) {
        if (text.find(other) != std::string_view::npos) {
          refuse(file_, fmt::format("its values are for \"{}\"; inkwane needs D50 and the 2° "
                                    "observer",
                                    text));
        }
      }
    }
  }

 private:
  bool choose_columns() {
    id_ = cmsIT8FindDataFormat(it8_.get(), "SAMPLE_ID");
    if (id_ < 0) id_ = cmsIT8FindDataFormat(it8_.get(), "SAMPLE_NAME");
    for (const bool xyz : {false, true}) {
      const std::array names =
          xyz ? std::array{"XYZ_X", "XYZ_Y", "XYZ_Z"} : std::array{"LAB_L", "LAB_A", "LAB_B"};
      for (int c = 0; c < 3; ++c) columns_[c] = cmsIT8FindDataFormat(it8_.get(), names[c]);
      is_xyz_ = xyz;
      if (id_ >= 0 && std::ranges::min(columns_) >= 0) return true;
    }
    return false;
  }

  [[nodiscard]] std::string cell(int set, int column) const {
    const char* text = cmsIT8GetDataRowCol(it8_.get(), set, column);
    return text ? text : "";
  }

  [[nodiscard]] double number(int set, int axis) const {
    const std::string text = cell(set, columns_[axis]);
    std::string_view digits = text;
    if (digits.starts_with('+')) digits.remove_prefix(1);
    double value = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    if (error != std::errc() || end != digits.data() + digits.size() || !std::isfinite(value)) {
      refuse(file_, fmt::format("\"{}\" of patch {} is not a number; use a dot as decimal sign",
                                text, id(set)));
    }
    return value;
  }

  std::filesystem::path file_;
  colour::LcmsContext context_;
  std::unique_ptr<void, void (*)(cmsHANDLE)> it8_;
  int id_ = -1;
  std::array<int, 3> columns_{-1, -1, -1};
  bool is_xyz_ = false;
};

/// Which set of the file is which patch, row by row.
std::vector<int> assign(const Table& table, const std::filesystem::path& file, int rows,
                        int columns) {
  const int wanted = rows * columns;
  std::vector<int> set_of(wanted, -1);
  int by_place = 0, by_number = 0;
  std::string beyond;
  const auto put = [&](int patch, int set) {
    if (set_of[patch] >= 0) {
      refuse(file, fmt::format("patch {} stands twice; keep one row of it", table.id(set)));
    }
    set_of[patch] = set;
  };
  for (int set = 0; set < table.sets(); ++set) {
    by_place += place_of(table.id(set)).has_value();
    by_number += number_of(table.id(set)).has_value();
  }

  if (by_place > 0 && by_place >= by_number) {
    for (int set = 0; set < table.sets(); ++set) {
      const auto place = place_of(table.id(set));
      if (!place) continue;
      if (place->first < rows && place->second < columns) {
        put(place->first * columns + place->second, set);
      } else if (beyond.empty()) {
        beyond = table.id(set);
      }
    }
    const auto missing = std::ranges::find(set_of, -1);
    if (missing == set_of.end() && beyond.empty()) return set_of;
    if (missing != set_of.end()) {
      const int patch = static_cast<int>(missing - set_of.begin());
      refuse(file, fmt::format("patch {} is missing; [target] asks for {} rows of {} patches",
                               patch_id(patch / columns, patch % columns), rows, columns));
    }
    refuse(file, fmt::format("has patch {}, beyond the {} rows of {} patches that [target] gives",
                             beyond, rows, columns));
  }

  if (table.sets() != wanted) {
    refuse(file, fmt::format("has {} patches; [target] asks for {} rows of {}, so {}", table.sets(),
                             rows, columns, wanted));
  }
  if (by_number == wanted) {
    bool complete = true;
    for (int set = 0; set < wanted; ++set) {
      const int n = *number_of(table.id(set));
      complete = complete && n >= 1 && n <= wanted;
    }
    if (complete) {
      for (int set = 0; set < wanted; ++set) put(*number_of(table.id(set)) - 1, set);
      return set_of;
    }
  }
  for (int i = 0; i < wanted; ++i) set_of[i] = i;
  return set_of;
}

}  // namespace

std::string patch_id(int row, int column) {
  std::string letters(1, static_cast<char>('A' + row % 26));
  if (row >= 26) letters.insert(letters.begin(), static_cast<char>('A' + row / 26 - 1));
  return letters + std::to_string(column + 1);
}

Reference read_reference(const std::filesystem::path& file, int rows, int columns) {
  const Table table(file, load(file));
  table.check_conditions();
  const std::vector<int> set_of = assign(table, file, rows, columns);

  Reference reference{rows, columns, {}};
  double lightest = 0;
  for (int i = 0; i < rows * columns; ++i) {
    const LabD50 lab = table.lab(set_of[i]);
    const std::string id = patch_id(i / columns, i % columns);
    if (lab.L < -1 || lab.L > 110 || std::abs(lab.a) > 160 || std::abs(lab.b) > 160) {
      refuse(file, fmt::format("patch {} has Lab {:.1f} {:.1f} {:.1f}, which no printed patch has; "
                               "Lab must be against D50, and XYZ on a scale of 0 to 100",
                               id, lab.L, lab.a, lab.b));
    }
    lightest = std::max(lightest, lab.L);
    reference.patches.push_back({id, lab});
  }
  // XYZ on a scale of 0 to 1 would come out as a target of blacks.
  if (lightest < 20) {
    refuse(file, "has no patch lighter than L* 20; XYZ must be on a scale of 0 to 100");
  }
  return reference;
}

}  // namespace inkwane::target
