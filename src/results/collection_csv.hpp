// The regions of many assessments in one table (docs/formats.md, "collection.csv").
#pragma once

#include <optional>
#include <string>

#include <inkwane/error.hpp>
#include <inkwane/results.hpp>

namespace inkwane::results {

/// One treatment of a collection, assessed or failed.
struct Collected {
  std::string treatment, assessment;  ///< paths
  ExitCode code = ExitCode::done;
  std::string error;               ///< why it failed; empty: it did not
  std::optional<Results> results;  ///< none where it failed
};

/// With its line end.
[[nodiscard]] std::string collection_heading();
/// One row a region and change, as in regions.csv; one in all where there is none.
[[nodiscard]] std::string collection_rows(const Collected& one);

}  // namespace inkwane::results
