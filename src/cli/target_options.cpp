#include <fmt/format.h>

#include "cli/command.hpp"

namespace inkwane::cli {

void add_target_options(CLI::App& command, TargetCard& target, const std::string& where) {
  auto* reference = command.add_option(
      "--target", target.reference,
      fmt::format("Reference file of the colour target in {} (CGATS.17)", where));
  command.add_option("--rows", target.rows, "Rows of the target")
      ->capture_default_str()
      ->needs(reference)
      ->check(CLI::Range(1, kMostTargetRows));
  command.add_option("--columns", target.columns, "Columns of the target")
      ->capture_default_str()
      ->needs(reference)
      ->check(CLI::Range(1, kMostTargetRows));
}

}  // namespace inkwane::cli
