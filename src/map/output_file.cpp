#include "map/output_file.hpp"

#include <cerrno>
#include <cstring>
#include <utility>

#include <fmt/core.h>

#include <inkwane/error.hpp>

namespace inkwane::map {

OutputFile::OutputFile(std::filesystem::path file)
    : file_(std::move(file)), temporary_(file_.string() + ".part") {
  stream_ = std::fopen(temporary_.c_str(), "wb");
  if (stream_ == nullptr) fail(std::strerror(errno));
}

OutputFile::~OutputFile() {
  if (stream_ != nullptr) std::fclose(stream_);
  std::error_code ignored;
  std::filesystem::remove(temporary_, ignored);
}

void OutputFile::write(std::span<const unsigned char> bytes) {
  if (std::fwrite(bytes.data(), 1, bytes.size(), stream_) != bytes.size())
    fail(std::strerror(errno));
}

void OutputFile::write(std::string_view text) {
  if (std::fwrite(text.data(), 1, text.size(), stream_) != text.size()) fail(std::strerror(errno));
}

void OutputFile::commit() {
  // The last buffer is only written here: a full disk may show itself no earlier.
  std::FILE* stream = std::exchange(stream_, nullptr);
  if (std::fclose(stream) != 0) fail(std::strerror(errno));
  std::error_code error;
  std::filesystem::rename(temporary_, file_, error);
  if (error) fail(error.message());
}

void OutputFile::fail(const std::string& reason) const {
  throw Error(
      ExitCode::output,
      fmt::format("{} could not be written ({}): make room or choose another output folder.",
                  file_.string(), reason));
}

}  // namespace inkwane::map
