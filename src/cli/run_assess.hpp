// Assessing with progress, and the account of it: shared by assess and compare.
#pragma once

#include <inkwane/treatment.hpp>

#include "cli/command.hpp"

namespace inkwane::cli {

ExitCode run_assess(const Treatment& treatment, const std::filesystem::path& output,
                    const Common& common);

}  // namespace inkwane::cli
