// Image files for the tests, written with the libraries themselves and not with the room under
// test.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include <opencv2/core.hpp>
#include <tiffio.h>

namespace inkwane::test {

/// A picture (CV_16UC3) in which no two neighbours are alike; at 8 bits all values are multiples of
/// 257, so that either depth can hold it exactly.
cv::Mat pattern(int rows, int columns, int depth);
/// Smooth ramps of colour (CV_16UC3), which JPEG keeps.
cv::Mat ramps(int rows, int columns);

struct Tiff {
  int depth = 16;
  const char* mode = "w";  ///< of libtiff: "wl", "wb" byte order, "w8" BigTIFF
  int compression = COMPRESSION_NONE;
  int predictor = 1;
  int rows_per_strip = 7;
  int tile = 0;  ///< side of the tiles; 0: strips
  bool planar = false;
  int samples = 3;  ///< beyond 3: filled with extra values
  int photometric = PHOTOMETRIC_RGB;
  int format = SAMPLEFORMAT_UINT;
  int orientation = 1;
  int unit = RESUNIT_INCH;
  float x_resolution = 300, y_resolution = 300;  ///< 0: not written
  std::vector<std::uint8_t> icc;
  int subfile = 0;               ///< NewSubfileType
  bool directory_first = false;  ///< the directory before the pixels, so that cutting leaves it
};
/// One page; `append` adds it to the file.
void write_tiff(const std::filesystem::path& file, const cv::Mat& picture, const Tiff& how = {},
                bool append = false);

struct Png {
  int depth = 16;
  bool alpha = false, grey = false, palette = false, interlaced = false;
  bool srgb = false;
  std::vector<std::uint8_t> icc;
  std::vector<std::uint8_t> exif;                  ///< from its TIFF header on
  std::uint32_t x_metre = 11811, y_metre = 11811;  ///< 0: not written
  bool metres = true;
};
void write_png(const std::filesystem::path& file, const cv::Mat& picture, const Png& how = {});

struct Jpeg {
  int components = 3;  ///< 1 grey, 3 RGB, 4 CMYK
  bool progressive = false;
  std::vector<std::uint8_t> icc;
  std::vector<std::uint8_t> exif;  ///< from its TIFF header on
  int unit = 1;                    ///< of JFIF: 0 none, 1 inch, 2 cm
  int x_density = 300, y_density = 300;
};
void write_jpeg(const std::filesystem::path& file, const cv::Mat& picture, const Jpeg& how = {});
/// What libjpeg itself makes of the file, scaled by 257: each of Y, Cb and Cr rounded to 8 bits, so
/// that channels are off by up to …
inline constexpr double kJpegRounding = 257 * (0.5 + 0.886 + 0.5);
cv::Mat decode_jpeg(const std::filesystem::path& file);

/// An Exif block (Exif 2.3, clause 4.6.2) with orientation and resolution; 0: tag left out.
std::vector<std::uint8_t> exif_block(int orientation, int dpi, bool big_endian = false);

std::vector<std::uint8_t> read_bytes(const std::filesystem::path& file);
void write_bytes(const std::filesystem::path& file, const std::vector<std::uint8_t>& bytes);

}  // namespace inkwane::test
