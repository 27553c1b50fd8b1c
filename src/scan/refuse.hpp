// Refusals of this room: one sentence that begins with the file.
#pragma once

#include <filesystem>
#include <string>

#include <inkwane/error.hpp>

namespace inkwane::scan {

/// Throws Error(scan): "<path>: <what is wrong; what to do>."
[[noreturn]] inline void refuse(const std::filesystem::path& path, const std::string& what) {
  throw Error(ExitCode::scan, path.string() + ": " + what + ".");
}

}  // namespace inkwane::scan
