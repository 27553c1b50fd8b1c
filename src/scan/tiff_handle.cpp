#include "scan/tiff_handle.hpp"

#include <array>
#include <cstdio>
#include <memory>

#include <fmt/format.h>

#include "scan/refuse.hpp"

namespace inkwane::scan {

TiffHandle::TiffHandle(const InputFile& input) : input_(input) {
  const std::unique_ptr<TIFFOpenOptions, decltype(&TIFFOpenOptionsFree)> options(
      TIFFOpenOptionsAlloc(), TIFFOpenOptionsFree);
  // Nothing that libtiff reads in one piece can be longer than the file, its tables apart.
  TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), input.stamp().size + (64 << 20));
  TIFFOpenOptionsSetErrorHandlerExtR(options.get(), on_error, &message_);
  TIFFOpenOptionsSetWarningHandlerExtR(
      options.get(), [](TIFF*, void*, const char*, const char*, va_list) { return 1; }, nullptr);
  const auto no_write = [](thandle_t, void*, tmsize_t) -> tmsize_t { return -1; };
  const auto no_close = [](thandle_t) { return 0; };
  // "m": no memory map, in which a file cut short by someone else would kill the program.
  tiff_ = TIFFClientOpenExt(input.path().c_str(), "rm", this, on_read, no_write, on_seek, no_close,
                            on_size, nullptr, nullptr, options.get());
  if (tiff_ == nullptr) {
    refuse(input.path(), fmt::format("is a TIFF whose header cannot be read{}; it is cut off or "
                                     "damaged, copy the original again",
                                     reason()));
  }
}

std::string TiffHandle::reason() const {
  return message_.empty() ? "" : fmt::format(" ({})", message_);
}

int TiffHandle::on_error(TIFF*, void* user, const char*, const char* text, va_list arguments) {
  auto& message = *static_cast<std::string*>(user);
  if (message.empty()) {  // the first is the cause
    std::array<char, 256> line{};
    std::vsnprintf(line.data(), line.size(), text, arguments);
    message = line.data();
    while (!message.empty() && message.back() == '.') message.pop_back();
  }
  return 1;  // handled
}

tmsize_t TiffHandle::on_read(thandle_t handle, void* to, tmsize_t size) {
  auto* const self = static_cast<TiffHandle*>(handle);
  try {
    const auto got = self->input_.read_at(self->offset_, to, static_cast<std::size_t>(size));
    self->offset_ += static_cast<std::int64_t>(got);
    return static_cast<tmsize_t>(got);
  } catch (const Error&) {  // no exception may cross libtiff; it reports the missing bytes
    return -1;
  }
}

toff_t TiffHandle::on_seek(thandle_t handle, toff_t offset, int whence) {
  auto* const self = static_cast<TiffHandle*>(handle);
  const std::int64_t base = whence == SEEK_CUR   ? self->offset_
                            : whence == SEEK_END ? self->input_.stamp().size
                                                 : 0;
  self->offset_ = base + static_cast<std::int64_t>(offset);
  return static_cast<toff_t>(self->offset_);
}

toff_t TiffHandle::on_size(thandle_t handle) {
  return static_cast<toff_t>(static_cast<TiffHandle*>(handle)->input_.stamp().size);
}

}  // namespace inkwane::scan
