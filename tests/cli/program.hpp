// The program, and a small simulated treatment to run it on.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "tests/support.hpp"

namespace inkwane::test {

[[nodiscard]] inline Outcome run_inkwane(const std::vector<std::string>& arguments,
                                         long largest_file_kb = -1) {
  return run(INKWANE_PROGRAM, arguments, largest_file_kb);
}

}  // namespace inkwane::test
