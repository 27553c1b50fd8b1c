// Whether one scan is fit to measure.
#pragma once

#include <filesystem>

#include "target/reference.hpp"
#include "vet/finding.hpp"

namespace inkwane::vet {

/// Reads the scan once or a few times and judges it. `reference`: of the target that must be in it;
/// null: none asked for. A scan that cannot be read, or whose target cannot be found whole, ends in
/// an unusable finding that holds the Error's sentence; nothing is thrown for it.
[[nodiscard]] Findings vet_scan(const std::filesystem::path& file,
                                const target::Reference* reference);

}  // namespace inkwane::vet
