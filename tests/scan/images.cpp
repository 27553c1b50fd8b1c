#include "images.hpp"

#include <algorithm>
#include <cstring>
#include <fstream>
#include <memory>
#include <stdexcept>

#include <jpeglib.h>
#include <png.h>

namespace inkwane::test {
namespace {

using File = std::unique_ptr<std::FILE, int (*)(std::FILE*)>;

File open_file(const std::filesystem::path& path, const char* mode) {
  File file(std::fopen(path.c_str(), mode), std::fclose);
  if (!file) throw std::runtime_error("test cannot open " + path.string());
  return file;
}

/// Value of `sample` at a place: the picture's channel, or something else for extra samples.
std::uint16_t sample_at(const cv::Mat& picture, int row, int column, int sample) {
  if (sample < 3) return picture.at<cv::Vec3w>(row, column)[sample];
  return static_cast<std::uint16_t>(257 * ((row + 3 * column) % 256));
}

void put(std::vector<std::uint8_t>& to, std::size_t index, std::uint16_t value, int depth) {
  if (depth == 16) {
    std::memcpy(to.data() + 2 * index, &value, 2);
  } else if (depth == 8) {
    to[index] = static_cast<std::uint8_t>(value / 257);
  } else if (depth == 32) {
    const float number = static_cast<float>(value) / 65535.0F;
    std::memcpy(to.data() + 4 * index, &number, 4);
  } else if (depth == 1) {
    if (value > 32767) to[index / 8] |= static_cast<std::uint8_t>(0x80 >> (index % 8));
  }
}

/// Samples of a block of rows and columns; beyond the picture's edge the last value again.
std::vector<std::uint8_t> block(const cv::Mat& picture, const Tiff& how, int top, int left,
                                int rows, int columns, int plane) {
  const int samples = how.planar ? 1 : how.samples;
  const std::size_t row_values = static_cast<std::size_t>(columns) * samples;
  const std::size_t row_bytes = (row_values * how.depth + 7) / 8;
  std::vector<std::uint8_t> bytes(row_bytes * rows);
  for (int r = 0; r < rows; ++r) {
    std::vector<std::uint8_t> line(row_bytes);
    for (int c = 0; c < columns; ++c) {
      for (int s = 0; s < samples; ++s) {
        const int row = std::min(top + r, picture.rows - 1);
        const int column = std::min(left + c, picture.cols - 1);
        put(line, static_cast<std::size_t>(c) * samples + s,
            sample_at(picture, row, column, how.planar ? plane : s), how.depth);
      }
    }
    std::copy(line.begin(), line.end(), bytes.begin() + static_cast<std::ptrdiff_t>(r * row_bytes));
  }
  return bytes;
}

}  // namespace

cv::Mat pattern(int rows, int columns, int depth) {
  cv::Mat picture(rows, columns, CV_16UC3);
  cv::RNG random(20310);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < columns; ++c) {
      for (int s = 0; s < 3; ++s) {
        const int smooth = (r * 211 + c * 97 + s * 20011) % 65536;
        const int value = (smooth + random.uniform(0, 3000)) % 65536;
        picture.at<cv::Vec3w>(r, c)[s] =
            cv::saturate_cast<std::uint16_t>(depth == 8 ? value / 256 * 257 : value);
      }
    }
  }
  return picture;
}

void write_tiff(const std::filesystem::path& file, const cv::Mat& picture, const Tiff& how,
                bool append) {
  const std::string mode = append ? "a" : how.directory_first ? "w+" : how.mode;
  TIFFSetWarningHandler(nullptr);  // the old code for deflate is meant
  const std::unique_ptr<TIFF, decltype(&TIFFClose)> owner(TIFFOpen(file.c_str(), mode.c_str()),
                                                          TIFFClose);
  TIFF* const tiff = owner.get();
  if (tiff == nullptr) throw std::runtime_error("test cannot write " + file.string());
  TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, how.subfile);
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, picture.cols);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, picture.rows);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, how.depth);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, how.samples);
  TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, how.format);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, how.photometric);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG,
               how.planar ? PLANARCONFIG_SEPARATE : PLANARCONFIG_CONTIG);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, how.compression);
  if (how.predictor != 1) TIFFSetField(tiff, TIFFTAG_PREDICTOR, how.predictor);
  TIFFSetField(tiff, TIFFTAG_ORIENTATION, how.orientation);
  if (how.photometric == PHOTOMETRIC_RGB && how.samples > 3) {
    const std::vector<std::uint16_t> kinds(how.samples - 3, EXTRASAMPLE_UNASSALPHA);
    TIFFSetField(tiff, TIFFTAG_EXTRASAMPLES, how.samples - 3, kinds.data());
  }
  if (how.photometric == PHOTOMETRIC_PALETTE) {
    std::vector<std::uint16_t> map(256, 1000);
    TIFFSetField(tiff, TIFFTAG_COLORMAP, map.data(), map.data(), map.data());
  }
  if (how.x_resolution > 0) {
    TIFFSetField(tiff, TIFFTAG_RESOLUTIONUNIT, how.unit);
    TIFFSetField(tiff, TIFFTAG_XRESOLUTION, static_cast<double>(how.x_resolution));
    TIFFSetField(tiff, TIFFTAG_YRESOLUTION, static_cast<double>(how.y_resolution));
  }
  if (!how.icc.empty()) TIFFSetField(tiff, TIFFTAG_ICCPROFILE, how.icc.size(), how.icc.data());
  if (how.tile > 0) {
    TIFFSetField(tiff, TIFFTAG_TILEWIDTH, how.tile);
    TIFFSetField(tiff, TIFFTAG_TILELENGTH, how.tile);
  } else {
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, how.rows_per_strip);
  }
  bool good = true;
  if (how.directory_first) {
    TIFFDeferStrileArrayWriting(tiff);
    good = TIFFWriteCheck(tiff, how.tile > 0 ? 1 : 0, "write_tiff") == 1 &&
           TIFFWriteDirectory(tiff) == 1 && TIFFSetDirectory(tiff, 0) == 1 &&
           TIFFForceStrileArrayWriting(tiff) == 1;
  }
  for (int plane = 0; plane < (how.planar ? how.samples : 1); ++plane) {
    if (how.tile > 0) {
      for (int top = 0; top < picture.rows; top += how.tile) {
        for (int left = 0; left < picture.cols; left += how.tile) {
          auto bytes = block(picture, how, top, left, how.tile, how.tile, plane);
          const auto tile = TIFFComputeTile(tiff, left, top, 0, static_cast<std::uint16_t>(plane));
          good = good && TIFFWriteEncodedTile(tiff, tile, bytes.data(),
                                              static_cast<tmsize_t>(bytes.size())) >= 0;
        }
      }
    } else {
      for (int top = 0; top < picture.rows; top += how.rows_per_strip) {
        const int rows = std::min(how.rows_per_strip, picture.rows - top);
        auto bytes = block(picture, how, top, 0, rows, picture.cols, plane);
        const auto strip = TIFFComputeStrip(tiff, top, static_cast<std::uint16_t>(plane));
        good = good && TIFFWriteEncodedStrip(tiff, strip, bytes.data(),
                                             static_cast<tmsize_t>(bytes.size())) >= 0;
      }
    }
  }
  if (!good || (!how.directory_first && TIFFWriteDirectory(tiff) != 1))
    throw std::runtime_error("test cannot write " + file.string());
}

void write_png(const std::filesystem::path& file, const cv::Mat& picture, const Png& how) {
  const File out = open_file(file, "wb");
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  png_init_io(png, out.get());
  const int colour = how.palette ? PNG_COLOR_TYPE_PALETTE
                     : how.grey  ? PNG_COLOR_TYPE_GRAY
                     : how.alpha ? PNG_COLOR_TYPE_RGB_ALPHA
                                 : PNG_COLOR_TYPE_RGB;
  png_set_IHDR(png, info, picture.cols, picture.rows, how.depth, colour,
               how.interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_BASE,
               PNG_FILTER_TYPE_BASE);
  const std::vector<png_color> palette(256, png_color{1, 2, 3});
  if (how.palette) png_set_PLTE(png, info, palette.data(), 1 << how.depth);
  if (how.srgb) png_set_sRGB(png, info, PNG_sRGB_INTENT_RELATIVE);
  if (!how.icc.empty()) {
    png_set_option(png, PNG_SKIP_sRGB_CHECK_PROFILE, PNG_OPTION_ON);
    png_set_iCCP(png, info, "profile", PNG_COMPRESSION_TYPE_BASE, how.icc.data(),
                 static_cast<png_uint_32>(how.icc.size()));
  }
  auto exif = how.exif;
  if (!exif.empty()) png_set_eXIf_1(png, info, static_cast<png_uint_32>(exif.size()), exif.data());
  if (how.x_metre > 0) {
    png_set_pHYs(png, info, how.x_metre, how.y_metre,
                 how.metres ? PNG_RESOLUTION_METER : PNG_RESOLUTION_UNKNOWN);
  }
  png_write_info(png, info);
  const int samples = how.palette || how.grey ? 1 : how.alpha ? 4 : 3;
  const std::size_t row_bytes =
      (static_cast<std::size_t>(picture.cols) * samples * how.depth + 7) / 8;
  std::vector<std::vector<std::uint8_t>> rows;
  std::vector<png_bytep> pointers;
  for (int r = 0; r < picture.rows; ++r) {
    rows.emplace_back(row_bytes);
    for (int c = 0; c < picture.cols; ++c) {
      for (int s = 0; s < samples; ++s) {
        put(rows.back(), static_cast<std::size_t>(c) * samples + s, sample_at(picture, r, c, s),
            how.depth);
      }
    }
    if (how.depth == 16) {  // PNG is big-endian
      for (std::size_t i = 0; i + 1 < row_bytes; i += 2)
        std::swap(rows.back()[i], rows.back()[i + 1]);
    }
  }
  for (auto& row : rows) pointers.push_back(row.data());
  png_write_image(png, pointers.data());
  png_write_end(png, nullptr);
  png_destroy_write_struct(&png, &info);
}

void write_jpeg(const std::filesystem::path& file, const cv::Mat& picture, const Jpeg& how) {
  const File out = open_file(file, "wb");
  jpeg_compress_struct jpeg{};
  jpeg_error_mgr errors{};
  jpeg.err = jpeg_std_error(&errors);
  jpeg_create_compress(&jpeg);
  jpeg_stdio_dest(&jpeg, out.get());
  jpeg.image_width = static_cast<JDIMENSION>(picture.cols);
  jpeg.image_height = static_cast<JDIMENSION>(picture.rows);
  jpeg.input_components = how.components;
  jpeg.in_color_space = how.components == 1   ? JCS_GRAYSCALE
                        : how.components == 4 ? JCS_CMYK
                                              : JCS_RGB;
  jpeg_set_defaults(&jpeg);
  jpeg_set_quality(&jpeg, 92, TRUE);
  if (jpeg.write_JFIF_header != 0) {
    jpeg.density_unit = static_cast<UINT8>(how.unit);
    jpeg.X_density = static_cast<UINT16>(how.x_density);
    jpeg.Y_density = static_cast<UINT16>(how.y_density);
  }
  if (how.progressive) jpeg_simple_progression(&jpeg);
  jpeg_start_compress(&jpeg, TRUE);
  if (!how.exif.empty()) {
    std::vector<std::uint8_t> marker{'E', 'x', 'i', 'f', 0, 0};
    marker.insert(marker.end(), how.exif.begin(), how.exif.end());
    jpeg_write_marker(&jpeg, JPEG_APP0 + 1, marker.data(),
                      static_cast<unsigned int>(marker.size()));
  }
  if (!how.icc.empty()) {
    jpeg_write_icc_profile(&jpeg, how.icc.data(), static_cast<unsigned int>(how.icc.size()));
  }
  std::vector<std::uint8_t> row(static_cast<std::size_t>(picture.cols) * how.components);
  for (int r = 0; r < picture.rows; ++r) {
    for (int c = 0; c < picture.cols; ++c) {
      for (int s = 0; s < how.components; ++s) {
        put(row, static_cast<std::size_t>(c) * how.components + s, sample_at(picture, r, c, s), 8);
      }
    }
    JSAMPROW from = row.data();
    jpeg_write_scanlines(&jpeg, &from, 1);
  }
  jpeg_finish_compress(&jpeg);
  jpeg_destroy_compress(&jpeg);
}

cv::Mat ramps(int rows, int columns) {
  cv::Mat picture(rows, columns, CV_16UC3);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < columns; ++c) {
      picture.at<cv::Vec3w>(r, c) = cv::Vec3w(static_cast<std::uint16_t>(r * 200),
                                              static_cast<std::uint16_t>(c * 800), 30000);
    }
  }
  return picture;
}

cv::Mat decode_jpeg(const std::filesystem::path& file) {
  const File in = open_file(file, "rb");
  jpeg_decompress_struct jpeg{};
  jpeg_error_mgr errors{};
  jpeg.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&jpeg);
  jpeg_stdio_src(&jpeg, in.get());
  jpeg_read_header(&jpeg, TRUE);
  jpeg.out_color_space = JCS_RGB;
  jpeg.do_fancy_upsampling = FALSE;  // each value of colour for the pixels it was taken of
  jpeg_start_decompress(&jpeg);
  cv::Mat picture(static_cast<int>(jpeg.output_height), static_cast<int>(jpeg.output_width),
                  CV_16UC3);
  std::vector<std::uint8_t> row(3 * static_cast<std::size_t>(picture.cols));
  for (int r = 0; r < picture.rows; ++r) {
    JSAMPROW to = row.data();
    jpeg_read_scanlines(&jpeg, &to, 1);
    for (std::size_t i = 0; i < row.size(); ++i) {
      picture.ptr<std::uint16_t>(r)[i] = static_cast<std::uint16_t>(row[i] * 257);
    }
  }
  jpeg_finish_decompress(&jpeg);
  jpeg_destroy_decompress(&jpeg);
  return picture;
}

std::vector<std::uint8_t> exif_block(int orientation, int dpi, bool big_endian) {
  std::vector<std::uint8_t> bytes;
  const auto add = [&](std::uint32_t value, int count) {
    for (int i = 0; i < count; ++i) {
      bytes.push_back(static_cast<std::uint8_t>(value >> 8 * (big_endian ? count - 1 - i : i)));
    }
  };
  const std::uint32_t tags = (orientation > 0 ? 1U : 0U) + (dpi > 0 ? 3U : 0U);
  bytes = big_endian ? std::vector<std::uint8_t>{'M', 'M'} : std::vector<std::uint8_t>{'I', 'I'};
  add(42, 2);
  add(8, 4);
  add(tags, 2);
  const std::uint32_t data = 8 + 2 + 12 * tags + 4;
  const auto add_short = [&](std::uint32_t tag, std::uint32_t value) {
    add(tag, 2), add(3, 2), add(1, 4), add(value, 2), add(0, 2);
  };
  const auto add_rational = [&](std::uint32_t tag, std::uint32_t offset) {
    add(tag, 2), add(5, 2), add(1, 4), add(offset, 4);
  };
  if (orientation > 0) add_short(274, static_cast<std::uint32_t>(orientation));
  if (dpi > 0) {
    add_rational(282, data);
    add_rational(283, data + 8);
    add_short(296, 2);
  }
  add(0, 4);
  if (dpi > 0) {
    for (int axis = 0; axis < 2; ++axis) {
      add(static_cast<std::uint32_t>(dpi) * 10, 4);
      add(10, 4);
    }
  }
  return bytes;
}

std::vector<std::uint8_t> read_bytes(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

void write_bytes(const std::filesystem::path& file, const std::vector<std::uint8_t>& bytes) {
  std::ofstream out(file, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes.data()),
            static_cast<std::streamsize>(bytes.size()));
}

}  // namespace inkwane::test
