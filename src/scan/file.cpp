#include "scan/file.hpp"

#include <array>
#include <cerrno>
#include <cstring>
#include <memory>
#include <vector>

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include "scan/hash.hpp"
#include "scan/refuse.hpp"

namespace inkwane::scan {
namespace {

FileStamp stamp_of(const struct stat& status) {
  return {status.st_dev, status.st_ino, status.st_size, status.st_mtim.tv_sec,
          status.st_mtim.tv_nsec};
}

[[noreturn]] void refuse_changed(const std::filesystem::path& path) {
  refuse(path, "was changed while it was being read; leave it alone and run again");
}

[[noreturn]] void refuse_open(const std::filesystem::path& path, int error) {
  switch (error) {
    case ENOENT:
    case ENOTDIR:
      refuse(path, "does not exist; check the path");
    case EACCES:
    case EPERM:
      refuse(path, "may not be read; ask for permission to read it");
    default:
      refuse(path, fmt::format("could not be opened ({})", std::strerror(error)));
  }
}

}  // namespace

InputFile::InputFile(const std::filesystem::path& path) : path_(path) {
  // Without O_NONBLOCK the opening of a named pipe would wait for its other end.
  descriptor_ = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (descriptor_ < 0) refuse_open(path, errno);
  struct stat status {};
  const bool known = ::fstat(descriptor_, &status) == 0;
  stamp_ = stamp_of(status);
  const char* fault = nullptr;
  if (!known || !(S_ISREG(status.st_mode) || S_ISDIR(status.st_mode))) {
    fault = "is not a regular file; name an image file";
  } else if (S_ISDIR(status.st_mode)) {
    fault = "is a folder; name an image file in it";
  } else if (status.st_size == 0) {
    fault = "is empty; scan again or copy it anew";
  }
  if (fault != nullptr) {
    ::close(descriptor_);  // no destructor runs after a throw from here
    refuse(path, fault);
  }
}

InputFile::InputFile(const std::filesystem::path& path, const FileStamp& stamp) : InputFile(path) {
  if (stamp_ != stamp) refuse_changed(path);
}

InputFile::~InputFile() {
  ::close(descriptor_);
}

std::size_t InputFile::read_at(std::int64_t offset, void* buffer, std::size_t size) const {
  std::size_t done = 0;
  while (done < size) {
    const ssize_t got = ::pread(descriptor_, static_cast<char*>(buffer) + done, size - done,
                                offset + static_cast<std::int64_t>(done));
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) refuse(path_, fmt::format("could not be read ({})", std::strerror(errno)));
    if (got == 0) break;
    done += static_cast<std::size_t>(got);
  }
  return done;
}

void InputFile::check_unchanged() const {
  struct stat status {};
  if (::fstat(descriptor_, &status) != 0 || stamp_of(status) != stamp_) refuse_changed(path_);
}

std::string InputFile::sha256() const {
  Sha256 digest;
  std::vector<unsigned char> buffer(1 << 18);
  std::int64_t offset = 0;
  while (const std::size_t got = read_at(offset, buffer.data(), buffer.size())) {
    digest.add({buffer.data(), got});
    offset += static_cast<std::int64_t>(got);
  }
  std::string hex = digest.hex();
  if (hex.empty()) refuse(path_, "could not be hashed: this system's OpenSSL offers no SHA-256");
  if (offset != stamp_.size) refuse_changed(path_);
  return hex;
}

}  // namespace inkwane::scan
