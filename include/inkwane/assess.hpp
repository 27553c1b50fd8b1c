// The whole job: a treatment in, a folder of results, maps and a report out.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

#include <inkwane/results.hpp>
#include <inkwane/treatment.hpp>

namespace inkwane {

struct AssessOptions {
  std::filesystem::path output;  ///< the folder to write; replaced whole if it holds an assessment
  int threads = 0;               ///< 0: as many as the machine has; results do not depend on it
  /// Told what is being done, and how far along it is (0 to 1).
  std::function<void(const std::string& what, double done)> progress;
};

/// Throws Error; the output folder is then as it was before.
results::Results assess(const Treatment& treatment, const AssessOptions& options);

}  // namespace inkwane
