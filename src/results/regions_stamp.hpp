// The regions of a treatment, stamped: regions drawn after results were seen can then be told.
#pragma once

#include <inkwane/results.hpp>

namespace inkwane::results {

/// Hashes the regions' canonical text (docs/formats.md, "regions_stamp"). `destination`: where the
/// results will go. An assessment that stands there already tells since when these regions are
/// used, or which others were used before.
[[nodiscard]] RegionsStamp stamp_regions(const Treatment& treatment,
                                         const std::filesystem::path& destination);

/// The warning where results were seen with other regions; none otherwise.
[[nodiscard]] std::optional<std::string> changed_regions(const RegionsStamp& stamp);

}  // namespace inkwane::results
