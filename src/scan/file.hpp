// A scan's file on disk: opened read-only, identified, hashed.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>

#include <sys/stat.h>

namespace inkwane::scan {

/// What tells one state of a file from another without reading it.
struct FileStamp {
  dev_t device = 0;
  ino_t inode = 0;
  std::int64_t size = 0;
  std::int64_t modified_s = 0, modified_ns = 0;
  bool operator==(const FileStamp&) const = default;
};

/// An open file descriptor for reading; closed with the object.
class InputFile {
 public:
  /// Throws Error(scan) for a missing or empty file, a folder, a device, or one that may not be
  /// read.
  explicit InputFile(const std::filesystem::path& path);
  /// The same file again. Throws Error(scan) if it is no longer what `stamp` says.
  InputFile(const std::filesystem::path& path, const FileStamp& stamp);
  InputFile(const InputFile&) = delete;
  InputFile& operator=(const InputFile&) = delete;
  ~InputFile();

  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  [[nodiscard]] const FileStamp& stamp() const { return stamp_; }
  [[nodiscard]] int descriptor() const { return descriptor_; }

  /// Bytes read at `offset` into `buffer`, fewer than `size` only at the end of the file. Throws
  /// Error(scan) if the device fails.
  std::size_t read_at(std::int64_t offset, void* buffer, std::size_t size) const;

  /// Throws Error(scan) if the file was written to since it was opened.
  void check_unchanged() const;

  /// SHA-256 of all bytes, lower-case hexadecimal.
  [[nodiscard]] std::string sha256() const;

 private:
  std::filesystem::path path_;
  int descriptor_ = -1;
  FileStamp stamp_;
};

}  // namespace inkwane::scan
