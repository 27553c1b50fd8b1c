// Many treatments in one call: where each is written, the table of them all, the CSV of them all.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include <inkwane/results.hpp>

#include "cli/outcome.hpp"
#include "map/output_file.hpp"

namespace inkwane::cli {

/// The folder of each treatment's assessment. One treatment: `output`, or "assessment" beside it.
/// Several: below `output` by their names; or beside each, told apart by name where they share a
/// folder. Throws Error(usage) where two would be written into one.
[[nodiscard]] std::vector<std::filesystem::path> places(
    const std::vector<std::filesystem::path>& treatments, const std::filesystem::path& output);

/// Rows of the table and of the CSV, one treatment after another.
class Collection {
 public:
  /// Makes sure that `csv` can be written. Throws Error(usage) where it is there and is no earlier
  /// one, Error(output) where it cannot be written.
  Collection(const std::filesystem::path& csv, std::size_t members);

  /// Reads what an assessment left; returns how that ended with it. `treatment` may be empty.
  Ended add(std::size_t member, const std::filesystem::path& treatment,
            const std::filesystem::path& folder, const Ended& ended);
  /// Writes the CSV. Throws Error(output).
  void commit();

  [[nodiscard]] std::string table() const;
  /// The highest of any.
  [[nodiscard]] ExitCode code() const { return code_; }

 private:
  struct Member {
    std::vector<std::string> row;
    std::string csv;
  };
  std::filesystem::path csv_;
  map::OutputFile file_;
  std::vector<Member> members_;
  ExitCode code_ = ExitCode::done;
};

}  // namespace inkwane::cli
