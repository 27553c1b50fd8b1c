// How a command ended, whatever was thrown.
#pragma once

#include <string>

#include "cli/command.hpp"

namespace inkwane::cli {

struct Ended {
  ExitCode code = ExitCode::done;
  std::string sentence;  ///< one, without a line break; empty where nothing was thrown
};

/// Runs `work` and turns all that it throws into an exit code and a sentence.
[[nodiscard]] Ended guarded(const Run& work);

}  // namespace inkwane::cli
