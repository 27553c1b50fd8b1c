// A file that is there complete or not at all.
#pragma once

#include <cstdio>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>

namespace inkwane::map {

/// Writes beside the file under a temporary name; commit() gives it its name. Without commit()
/// nothing stays. Every failure is Error(output) with the file's name and the system's reason.
class OutputFile {
 public:
  explicit OutputFile(std::filesystem::path file);
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;
  ~OutputFile();

  void write(std::span<const unsigned char> bytes);
  void write(std::string_view text);
  void commit();

  /// For encoders that write themselves; they report what went wrong through fail().
  [[nodiscard]] std::FILE* stream() const { return stream_; }
  [[noreturn]] void fail(const std::string& reason) const;

 private:
  std::filesystem::path file_, temporary_;
  std::FILE* stream_ = nullptr;
};

}  // namespace inkwane::map
