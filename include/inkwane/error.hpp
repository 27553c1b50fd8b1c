// The one error type of inkwane, and the exit codes of the program.
#pragma once

#include <stdexcept>
#include <string>

namespace inkwane {

/// What the program tells its caller; the values are the process's exit codes.
enum class ExitCode : int {
  done = 0,      ///< done; there may be warnings
  doubtful = 1,  ///< done, but numbers are doubtful
  usage = 2,     ///< the command line or the treatment file is wrong
  scan = 3,      ///< a scan or reference file is missing, unreadable, unsuitable or another object
  output = 4,    ///< the output could not be written, or memory ran out
};

/// One sentence for a person (which file, where in it, what is wrong, what to do) and an exit code.
class Error : public std::runtime_error {
 public:
  Error(ExitCode code, const std::string& sentence) : std::runtime_error(sentence), code_(code) {}
  [[nodiscard]] ExitCode code() const noexcept { return code_; }

 private:
  ExitCode code_;
};

}  // namespace inkwane
