// Pictures read back with the general-purpose libraries, for the tests.
#pragma once

#include <csignal>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <string>

#include <opencv2/core.hpp>
#include <png.h>
#include <sys/resource.h>

namespace inkwane::test {

/// While it lives no file can grow beyond `bytes`: what a full disk looks like to a writer.
class SmallDisk {
 public:
  explicit SmallDisk(rlim_t bytes) {
    getrlimit(RLIMIT_FSIZE, &before_);
    handler_ = std::signal(SIGXFSZ, SIG_IGN);
    const rlimit small{bytes, before_.rlim_max};
    setrlimit(RLIMIT_FSIZE, &small);
  }
  SmallDisk(const SmallDisk&) = delete;
  SmallDisk& operator=(const SmallDisk&) = delete;
  ~SmallDisk() {
    setrlimit(RLIMIT_FSIZE, &before_);
    std::signal(SIGXFSZ, handler_);
  }

 private:
  rlimit before_{};
  void (*handler_)(int) = nullptr;
};

inline std::string bytes_of(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

/// CV_8UC3, R G B.
inline cv::Mat read_png(const std::filesystem::path& file) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  if (png_image_begin_read_from_file(&image, file.c_str()) == 0)
    throw std::runtime_error(image.message);
  image.format = PNG_FORMAT_RGB;
  cv::Mat picture(static_cast<int>(image.height), static_cast<int>(image.width), CV_8UC3);
  if (png_image_finish_read(&image, nullptr, picture.data, 0, nullptr) == 0)
    throw std::runtime_error(image.message);
  return picture;
}

}  // namespace inkwane::test
