// What every command shares. A command is one file: it describes itself to CLI11 and hands back
// what to run.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

#include <CLI/CLI.hpp>

#include <inkwane/error.hpp>
#include <inkwane/treatment.hpp>

namespace inkwane::cli {

/// Options that stand before or after any command.
struct Common {
  bool quiet = false;
  int threads = 0;  ///< 0: as many as the machine has
};

/// Set by the command that was chosen.
using Run = std::function<ExitCode()>;

void add_new(CLI::App& app, const Common& common, Run& run);
void add_vet(CLI::App& app, const Common& common, Run& run);
void add_assess(CLI::App& app, const Common& common, Run& run);
void add_gather(CLI::App& app, const Common& common, Run& run);
void add_regions(CLI::App& app, const Common& common, Run& run);
void add_desk(CLI::App& app, const Common& common, Run& run);
void add_plan(CLI::App& app, const Common& common, Run& run);
void add_compare(CLI::App& app, const Common& common, Run& run);
void add_card(CLI::App& app, const Common& common, Run& run);
void add_scanner(CLI::App& app, const Common& common, Run& run);
void add_report(CLI::App& app, const Common& common, Run& run);
void add_demo(CLI::App& app, const Common& common, Run& run);
void add_bath(CLI::App& app, const Common& common, Run& run);
void add_light(CLI::App& app, const Common& common, Run& run);

/// --target, --rows and --columns of a command that reads no treatment file; `where`: the scans
/// that the target lies in, in words.
void add_target_options(CLI::App& command, TargetCard& target, const std::string& where);

/// Throws Error(usage) where `file` is there already, unless `force`, and where it is a folder.
void refuse_to_overwrite(const std::filesystem::path& file, bool force);

/// The exit codes, for the end of each --help.
[[nodiscard]] std::string exit_codes();

}  // namespace inkwane::cli
