// Whether a scan is fit to measure: what was found out about it, and what to do about it.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "target/reference.hpp"

namespace inkwane::cli {

enum class Verdict {
  good,      ///< as it should be
  note,      ///< numbers will do, better is possible
  doubtful,  ///< numbers will be doubtful
  unusable,  ///< no numbers
};

struct Finding {
  Verdict verdict = Verdict::good;
  std::string what;    ///< what was seen, with its figure
  std::string advice;  ///< what to do; empty: nothing
};

/// Reads the scan once or a few times and judges it. `reference`: of the target that must be in it;
/// null: none asked for. A scan that cannot be read, or whose target cannot be found whole, ends in
/// an unusable finding that holds the Error's sentence; nothing is thrown for it.
[[nodiscard]] std::vector<Finding> vet_scan(const std::filesystem::path& file,
                                            const target::Reference* reference);

}  // namespace inkwane::cli
