// Results → report.html and report.pdf. Formats only; computes nothing.
#pragma once

#include <filesystem>

#include <inkwane/results.hpp>

namespace inkwane::report {

struct Options {
  bool client = false;  ///< leave out paths of files and their hashes
};

/// Writes report.html, one self-contained file, and report.pdf into `destination`, from the results
/// and the pictures that lie in `folder`. Each appears whole or not at all. Throws Error(output).
void write_report(const std::filesystem::path& folder, const results::Results& results,
                  const Options& options, const std::filesystem::path& destination);

}  // namespace inkwane::report
