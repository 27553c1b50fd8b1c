// The program's description of itself, as CLI11 holds it, for other readers: man pages, and
// completions for two shells.
#pragma once

#include <string>
#include <vector>

#include "cli/command.hpp"

namespace inkwane::cli {

/// `inkwane describe DIR`, hidden: writes the files below. Called by the build.
void add_describe(CLI::App& app, const Common& common, Run& run);

/// Roff of man(7). `above`: the program and the commands that it stands under, outermost first.
[[nodiscard]] std::string man_page(const CLI::App& app, const std::vector<const CLI::App*>& above);

[[nodiscard]] std::string bash_completion(const CLI::App& program);
[[nodiscard]] std::string zsh_completion(const CLI::App& program);

/// Commands of `app` that --help shows, in its order.
[[nodiscard]] std::vector<const CLI::App*> commands_of(const CLI::App& app);
/// Options and positionals of `app` that --help shows, in its order.
[[nodiscard]] std::vector<const CLI::Option*> options_of(const CLI::App& app);
/// The values that an option is confined to, where its check is a list; else none.
[[nodiscard]] std::vector<std::string> choices_of(const CLI::Option& option);
/// False for flags.
[[nodiscard]] bool takes_value(const CLI::Option& option);
/// "-o", "--output".
[[nodiscard]] std::vector<std::string> names_of(const CLI::Option& option);

}  // namespace inkwane::cli
