// Pieces of work in processes of their own: one that fails, or is ended by the system, takes no
// other with it.
#pragma once

#include <cstddef>
#include <functional>

#include "cli/outcome.hpp"

namespace inkwane::cli {

/// Runs `work(i)` for i from 0 to `count`, at most `jobs` at a time, and tells `ended` of each as
/// it ends, in the calling process. Must be called before any thread was started. Throws
/// Error(output) where no process can be started at all.
void run_apart(std::size_t count, int jobs, const std::function<ExitCode(std::size_t)>& work,
               const std::function<void(std::size_t, const Ended&)>& ended);

}  // namespace inkwane::cli
