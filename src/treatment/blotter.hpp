// [[blotter]] of a treatment file.
#pragma once

#include <inkwane/treatment.hpp>

#include "treatment/toml_table.hpp"

namespace inkwane::treatment {

/// Throws Error(usage) that names file, line and key.
[[nodiscard]] BlotterScan read_blotter(const Table& table, const std::filesystem::path& folder);
/// Each id stands once, and each stage is one of the treatment's. Throws Error(usage).
void check_blotters(const Treatment& treatment, const Table& root);

}  // namespace inkwane::treatment
