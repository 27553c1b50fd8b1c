#include "simulate/picture_file.hpp"

#include <algorithm>
#include <csetjmp>
#include <cstdio>
#include <memory>
#include <string>

#include <jpeglib.h>
#include <tiffio.h>

#include <inkwane/error.hpp>

namespace inkwane::simulate {
namespace {

[[noreturn]] void cannot_write(const std::filesystem::path& file) {
  throw Error(ExitCode::output,
              file.string() +
                  ": the simulated scan could not be written; make room or choose another folder.");
}

std::vector<std::uint8_t> row_in_8_bit(const cv::Mat& encoded, int row) {
  std::vector<std::uint8_t> bytes(static_cast<std::size_t>(encoded.cols) * 3);
  const auto* in = encoded.ptr<std::uint16_t>(row);
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    bytes[i] = static_cast<std::uint8_t>((in[i] + 128U) / 257U);
  }
  return bytes;
}

struct TiffClose {
  void operator()(TIFF* tiff) const { TIFFClose(tiff); }
};
struct FileClose {
  void operator()(std::FILE* file) const { std::fclose(file); }
};

// libjpeg asks for an error handler that does not return.
struct JpegErrors {
  jpeg_error_mgr manager{};
  std::jmp_buf back{};
};

/// C style between setjmp and longjmp: no object here has a destructor.
bool compress_jpeg(std::FILE* file, const cv::Mat& rgb, double dpi,
                   const std::vector<std::uint8_t>& icc) {
  JpegErrors errors;
  jpeg_compress_struct jpeg{};
  jpeg.err = jpeg_std_error(&errors.manager);
  errors.manager.error_exit = [](j_common_ptr info) {
    std::longjmp(reinterpret_cast<JpegErrors*>(info->err)->back, 1);
  };
  if (setjmp(errors.back) != 0) {
    jpeg_destroy_compress(&jpeg);
    return false;
  }
  jpeg_create_compress(&jpeg);
  jpeg_stdio_dest(&jpeg, file);
  jpeg.image_width = static_cast<JDIMENSION>(rgb.cols);
  jpeg.image_height = static_cast<JDIMENSION>(rgb.rows);
  jpeg.input_components = 3;
  jpeg.in_color_space = JCS_RGB;
  jpeg_set_defaults(&jpeg);
  jpeg_set_quality(&jpeg, 92, TRUE);
  jpeg.density_unit = 1;
  jpeg.X_density = jpeg.Y_density = static_cast<UINT16>(dpi + 0.5);
  jpeg_start_compress(&jpeg, TRUE);
  if (!icc.empty()) jpeg_write_icc_profile(&jpeg, icc.data(), static_cast<unsigned>(icc.size()));
  while (jpeg.next_scanline < jpeg.image_height) {
    JSAMPROW row =
        const_cast<JSAMPROW>(rgb.ptr<std::uint8_t>(static_cast<int>(jpeg.next_scanline)));
    jpeg_write_scanlines(&jpeg, &row, 1);
  }
  jpeg_finish_compress(&jpeg);
  jpeg_destroy_compress(&jpeg);
  return true;
}

}  // namespace

void write_tiff(const std::filesystem::path& file, const cv::Mat& encoded, int bit_depth,
                double dpi, const std::vector<std::uint8_t>& icc) {
  const std::unique_ptr<TIFF, TiffClose> tiff(TIFFOpen(file.c_str(), "w"));
  if (!tiff) cannot_write(file);
  TIFF* t = tiff.get();
  TIFFSetField(t, TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(encoded.cols));
  TIFFSetField(t, TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(encoded.rows));
  TIFFSetField(t, TIFFTAG_SAMPLESPERPIXEL, 3);
  TIFFSetField(t, TIFFTAG_BITSPERSAMPLE, bit_depth);
  TIFFSetField(t, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
  TIFFSetField(t, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(t, TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE);
  TIFFSetField(t, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
  TIFFSetField(t, TIFFTAG_ZIPQUALITY, 1);
  TIFFSetField(t, TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH);
  TIFFSetField(t, TIFFTAG_XRESOLUTION, dpi);
  TIFFSetField(t, TIFFTAG_YRESOLUTION, dpi);
  TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, 64);
  if (!icc.empty()) {
    TIFFSetField(t, TIFFTAG_ICCPROFILE, static_cast<std::uint32_t>(icc.size()), icc.data());
  }
  for (int row = 0; row < encoded.rows; ++row) {
    std::vector<std::uint8_t> bytes;
    if (bit_depth == 8) {
      bytes = row_in_8_bit(encoded, row);
    } else {
      // libtiff's predictor works in place.
      const auto* in = encoded.ptr<std::uint8_t>(row);
      bytes.assign(in, in + encoded.cols * encoded.elemSize());
    }
    if (TIFFWriteScanline(t, bytes.data(), static_cast<std::uint32_t>(row), 0) < 0)
      cannot_write(file);
  }
  if (TIFFFlush(t) == 0) cannot_write(file);
}

void write_jpeg(const std::filesystem::path& file, const cv::Mat& encoded, double dpi,
                const std::vector<std::uint8_t>& icc) {
  cv::Mat rgb(encoded.size(), CV_8UC3);
  for (int row = 0; row < encoded.rows; ++row) {
    const auto bytes = row_in_8_bit(encoded, row);
    std::copy(bytes.begin(), bytes.end(), rgb.ptr<std::uint8_t>(row));
  }
  const std::unique_ptr<std::FILE, FileClose> out(std::fopen(file.c_str(), "wb"));
  if (!out || !compress_jpeg(out.get(), rgb, dpi, icc) || std::fflush(out.get()) != 0) {
    cannot_write(file);
  }
}

}  // namespace inkwane::simulate
