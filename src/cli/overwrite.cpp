#include <fmt/format.h>

#include "cli/command.hpp"

namespace inkwane::cli {

void refuse_to_overwrite(const std::filesystem::path& file, bool force) {
  std::error_code code;
  if (std::filesystem::is_directory(file, code)) {
    throw Error(ExitCode::usage, fmt::format("{}: is a folder; name a file.", file.string()));
  }
  if (!force && std::filesystem::exists(std::filesystem::symlink_status(file, code))) {
    throw Error(ExitCode::usage,
                fmt::format("{}: is there already and will not be overwritten; name another file, "
                            "or give --force.",
                            file.string()));
  }
}

}  // namespace inkwane::cli
