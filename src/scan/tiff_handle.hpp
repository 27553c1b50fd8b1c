// libtiff over an InputFile.
#pragma once

#include <cstdarg>
#include <string>

#include <tiffio.h>

#include "scan/file.hpp"

namespace inkwane::scan {

/// An open libtiff handle, with a place of its own in the file, and what it last complained about;
/// nothing goes to stderr.
class TiffHandle {
 public:
  /// Throws Error(scan) if the header or the first directory cannot be read.
  explicit TiffHandle(const InputFile& input);
  TiffHandle(const TiffHandle&) = delete;
  TiffHandle& operator=(const TiffHandle&) = delete;
  ~TiffHandle() { TIFFClose(tiff_); }

  [[nodiscard]] TIFF* get() const { return tiff_; }
  /// " (…)" with libtiff's first complaint, to end a sentence with; empty if there is none.
  [[nodiscard]] std::string reason() const;
  void forget() { message_.clear(); }

 private:
  static int on_error(TIFF*, void* user, const char*, const char* text, va_list arguments);
  static tmsize_t on_read(thandle_t handle, void* to, tmsize_t size);
  static toff_t on_seek(thandle_t handle, toff_t offset, int whence);
  static toff_t on_size(thandle_t handle);

  const InputFile& input_;
  std::int64_t offset_ = 0;
  std::string message_;
  TIFF* tiff_ = nullptr;
};

/// A tag's value, its default by the standard, or `otherwise`. T must be the tag's own type.
template <typename T>
T tiff_field(TIFF* tiff, std::uint32_t tag, T otherwise) {
  T value = otherwise;
  return TIFFGetFieldDefaulted(tiff, tag, &value) == 1 ? value : otherwise;
}

}  // namespace inkwane::scan
