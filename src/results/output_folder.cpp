#include "results/output_folder.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <charconv>
#include <csignal>
#include <cstdio>
#include <fstream>
#include <optional>
#include <string_view>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <inkwane/error.hpp>

namespace inkwane::results {
namespace {

namespace fs = std::filesystem;

// All that an assessment holds at its top (docs/formats.md).
constexpr std::array<std::string_view, 10> kEntries{
    "results.json", "regions.csv", "findings.csv", "report.html", "report.pdf",
    "maps",         "profiles",    "images",       "crops",       "readout"};
constexpr std::string_view kWorking = ".inkwane-working-";
constexpr std::string_view kReplaced = ".inkwane-replaced-";

[[noreturn]] void fail(const fs::path& path, const std::error_code& code) {
  throw Error(ExitCode::output,
              fmt::format("{}: cannot be written ({}); choose another folder with "
                          "-o, or mend its permissions or the disk's room.",
                          path.string(), code.message()));
}

void check_replaceable(const fs::path& folder) {
  std::error_code code;
  const fs::file_status status = fs::status(folder, code);
  if (status.type() == fs::file_type::not_found) return;
  if (status.type() != fs::file_type::directory) {
    throw Error(ExitCode::usage,
                fmt::format("{}: is not a folder; choose another with -o.", folder.string()));
  }
  bool empty = true, results = false;
  fs::directory_iterator entries(folder, code);
  if (code) fail(folder, code);
  for (const fs::directory_entry& entry : entries) {
    const std::string name = entry.path().filename().string();
    empty = false;
    results = results || name == "results.json";
    if (std::find(kEntries.begin(), kEntries.end(), name) == kEntries.end()) {
      throw Error(ExitCode::usage,
                  fmt::format("{}: holds \"{}\", which no assessment wrote, and will not be "
                              "replaced; choose another folder with -o.",
                              folder.string(), name));
    }
  }
  if (!empty && !results) {
    throw Error(ExitCode::usage, fmt::format("{}: holds files but no results.json, so it is not an "
                                             "earlier assessment; choose another folder with -o.",
                                             folder.string()));
  }
}

/// The process that left a folder of this name, if it is one of ours.
std::optional<pid_t> owner(const std::string& name, const std::string& prefix) {
  if (!name.starts_with(prefix)) return std::nullopt;
  pid_t pid = 0;
  const char* end = name.data() + name.size();
  const auto [rest, error] = std::from_chars(name.data() + prefix.size(), end, pid);
  if (error != std::errc() || rest != end || pid <= 0) return std::nullopt;
  return pid;
}

/// Removes what a run that was killed left beside this destination, and puts back what it had
/// moved away.
void sweep(const fs::path& destination) {
  const std::string name = destination.filename().string();
  std::error_code code;
  for (const fs::directory_entry& entry : fs::directory_iterator(destination.parent_path(), code)) {
    for (const std::string_view kind : {kWorking, kReplaced}) {
      const auto pid = owner(entry.path().filename().string(), "." + name + std::string(kind));
      if (!pid || kill(*pid, 0) == 0 || errno != ESRCH) continue;
      if (kind == kReplaced && !fs::exists(destination, code)) {
        fs::rename(entry.path(), destination, code);
      } else {
        fs::remove_all(entry.path(), code);
      }
    }
  }
}

fs::path beside(const fs::path& destination, std::string_view kind) {
  return destination.parent_path() /
         fmt::format(".{}{}{}", destination.filename().string(), kind, getpid());
}

/// Where two folders cannot change places at once. Between the steps the earlier assessment lies
/// hidden beside the destination.
void replace_in_two_steps(const fs::path& working, const fs::path& destination) {
  const fs::path replaced = beside(destination, kReplaced);
  std::error_code code, ignored;
  fs::rename(destination, replaced, code);
  if (code) fail(destination, code);
  fs::rename(working, destination, code);
  if (code) {
    fs::rename(replaced, destination, ignored);
    fail(destination, code);
  }
  fs::remove_all(replaced, ignored);
}

}  // namespace

OutputFolder::OutputFolder(const fs::path& destination) {
  std::error_code code;
  destination_ = fs::absolute(destination, code).lexically_normal();
  if (code) fail(destination, code);
  if (!destination_.has_filename()) destination_ = destination_.parent_path();
  check_replaceable(destination_);
  fs::create_directories(destination_.parent_path(), code);
  if (code) fail(destination_, code);
  sweep(destination_);
  working_ = beside(destination_, kWorking);
  fs::create_directory(working_, code);
  if (code) fail(destination_, code);
}

OutputFolder::~OutputFolder() {
  std::error_code ignored;
  fs::remove_all(working_, ignored);
}

fs::path OutputFolder::make(const std::string& name) const {
  std::error_code code;
  fs::create_directory(working_ / name, code);
  if (code) fail(destination_, code);
  return working_ / name;
}

void OutputFolder::commit() {
  // Another run may put its own there, or take it away, between any two of these calls; each try
  // meets what it found.
  constexpr int kTries = 16;
  int why = 0;
  for (int i = 0; i < kTries; ++i) {
    check_replaceable(destination_);
    if (std::rename(working_.c_str(), destination_.c_str()) == 0) return;
    why = errno;
    if (why != ENOTEMPTY && why != EEXIST) break;
    // What was there is then in the working folder, and goes with it.
    if (renameat2(AT_FDCWD, working_.c_str(), AT_FDCWD, destination_.c_str(), RENAME_EXCHANGE) == 0)
      return;
    why = errno;
    if (why == EINVAL || why == ENOSYS) {  // file systems over a network, for the most part
      replace_in_two_steps(working_, destination_);
      return;
    }
    if (why != ENOENT) break;
  }
  fail(destination_, std::error_code(why, std::generic_category()));
}

void write_text(const fs::path& file, const std::string& text) {
  std::ofstream out(file, std::ios::binary);
  out.write(text.data(), static_cast<std::streamsize>(text.size()));
  out.close();
  if (!out) fail(file, std::error_code(errno, std::generic_category()));
}

}  // namespace inkwane::results
