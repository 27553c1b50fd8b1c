#include "cli/progress.hpp"

#include <cstdio>

#include <fmt/format.h>
#include <unistd.h>

namespace inkwane::cli {
namespace {

// ECMA-48: carriage return, then erase to the end of the line.
constexpr const char* kClearLine = "\r\033[K";

}  // namespace

Progress::Progress(bool quiet) : shown_(!quiet && isatty(STDERR_FILENO) != 0) {}
Progress::~Progress() {
  clear();
}

void Progress::show(const std::string& what, double done) {
  if (!shown_) return;
  fmt::print(stderr, "{}{:3.0f} %  {}", kClearLine, 100 * done, what);
  (void)std::fflush(stderr);
}

void Progress::clear() {
  if (shown_) fmt::print(stderr, "{}", kClearLine);
}

}  // namespace inkwane::cli
