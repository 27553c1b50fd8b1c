// A folder that appears whole or not at all.
#pragma once

#include <filesystem>

namespace inkwane::results {

/// Collects an assessment beside its destination and puts it in place in one go. Unless commit()
/// was called, nothing is left and the destination is as it was.
class OutputFolder {
 public:
  /// Throws Error(usage) where `destination` holds something that is not an earlier assessment, and
  /// Error(output) where its parent cannot be written.
  explicit OutputFolder(const std::filesystem::path& destination);
  ~OutputFolder();
  OutputFolder(const OutputFolder&) = delete;
  OutputFolder& operator=(const OutputFolder&) = delete;

  /// Where to write in the meantime.
  [[nodiscard]] const std::filesystem::path& path() const { return working_; }
  /// Makes a folder inside it. Throws Error(output).
  std::filesystem::path make(const std::string& name) const;
  /// Replaces the destination. Throws Error(output).
  void commit();

 private:
  std::filesystem::path destination_, working_;
};

/// Writes `text` and makes sure that all of it arrived. Throws Error(output).
void write_text(const std::filesystem::path& file, const std::string& text);

}  // namespace inkwane::results
