#include <algorithm>
#include <array>
#include <cstdarg>
#include <cstdio>
#include <memory>

#include <tiffio.h>

#include "map/output_file.hpp"
#include "map/picture.hpp"

namespace inkwane::map {
namespace {

/// libtiff's own words on what went wrong, kept for our sentence instead of printed.
struct Complaint {
  std::array<char, 200> text{};

  static int keep(TIFF*, void* user, const char*, const char* format, va_list arguments) {
    auto* self = static_cast<Complaint*>(user);
    std::vsnprintf(self->text.data(), self->text.size(), format, arguments);
    return 1;
  }
};

using Options = std::unique_ptr<TIFFOpenOptions, decltype(&TIFFOpenOptionsFree)>;
using Tiff = std::unique_ptr<TIFF, decltype(&TIFFClose)>;

std::FILE* stream_of(thandle_t handle) {
  return static_cast<std::FILE*>(handle);
}

tmsize_t read(thandle_t handle, void* bytes, tmsize_t size) {
  return static_cast<tmsize_t>(
      std::fread(bytes, 1, static_cast<std::size_t>(size), stream_of(handle)));
}
tmsize_t write(thandle_t handle, void* bytes, tmsize_t size) {
  return static_cast<tmsize_t>(
      std::fwrite(bytes, 1, static_cast<std::size_t>(size), stream_of(handle)));
}
toff_t seek(thandle_t handle, toff_t offset, int whence) {
  if (fseeko(stream_of(handle), static_cast<off_t>(offset), whence) != 0)
    return static_cast<toff_t>(-1);
  return static_cast<toff_t>(ftello(stream_of(handle)));
}
int leave_open(thandle_t) {
  return 0;
}
toff_t size_unknown(thandle_t) {
  return 0;
}

bool write_all(TIFF* tiff, const cv::Mat& values) {
  const int channels = values.channels();
  constexpr int kStripRows = 64;
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, values.cols);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, values.rows);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 32);
  TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_IEEEFP);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, channels);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_MINISBLACK);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(tiff, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
  TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, kStripRows);
  if (channels == 2) {
    constexpr std::uint16_t kExtra[] = {EXTRASAMPLE_UNSPECIFIED};
    TIFFSetField(tiff, TIFFTAG_EXTRASAMPLES, 1, kExtra);
  }
  for (int row = 0; row < values.rows; row += kStripRows) {
    // libtiff asks for a writable buffer, which on this machine's byte order it only reads.
    cv::Mat strip = values.rowRange(row, std::min(row + kStripRows, values.rows)).clone();
    const auto bytes = static_cast<tmsize_t>(strip.total() * strip.elemSize());
    if (TIFFWriteEncodedStrip(tiff, static_cast<std::uint32_t>(row / kStripRows), strip.data,
                              bytes) != bytes)
      return false;
  }
  return TIFFWriteDirectory(tiff) == 1 && TIFFFlush(tiff) == 1;
}

}  // namespace

void write_tiff(const std::filesystem::path& file, const cv::Mat& values) {
  CV_Assert(values.type() == CV_32FC1 || values.type() == CV_32FC2);
  OutputFile output(file);
  Complaint complaint;
  const Options options(TIFFOpenOptionsAlloc(), &TIFFOpenOptionsFree);
  TIFFOpenOptionsSetErrorHandlerExtR(options.get(), &Complaint::keep, &complaint);
  Tiff tiff(TIFFClientOpenExt(file.c_str(), "w", output.stream(), &read, &write, &seek, &leave_open,
                              &size_unknown, nullptr, nullptr, options.get()),
            &TIFFClose);
  const bool written = tiff != nullptr && write_all(tiff.get(), values);
  tiff.reset();
  if (!written) output.fail(complaint.text.data());
  output.commit();
}

}  // namespace inkwane::map
