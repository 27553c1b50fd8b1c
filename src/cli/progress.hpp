// One line of progress on standard error, where that is a terminal.
#pragma once

#include <string>

namespace inkwane::cli {

class Progress {
 public:
  /// Silent where `quiet`, or where standard error is not a terminal.
  explicit Progress(bool quiet);
  ~Progress();
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;

  /// `done` from 0 to 1.
  void show(const std::string& what, double done);
  /// Clears the line, so that other text can follow.
  void clear();

 private:
  bool shown_;
};

}  // namespace inkwane::cli
