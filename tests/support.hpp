// What several tests share: a temporary folder, and running the program.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace inkwane::test {

/// A folder of its own that goes when the test ends.
class TemporaryFolder {
 public:
  TemporaryFolder();
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  [[nodiscard]] std::filesystem::path operator/(const std::string& name) const {
    return path_ / name;
  }

 private:
  std::filesystem::path path_;
};

struct Outcome {
  int code = -1;  ///< exit code, or −signal
  std::string out, err;
};

/// Runs a program and waits for it. `largest_file_kb` ≥ 0 makes writes beyond that size fail, as on
/// a full disk.
[[nodiscard]] Outcome run(const std::filesystem::path& program,
                          const std::vector<std::string>& arguments, long largest_file_kb = -1);

}  // namespace inkwane::test
