#include <algorithm>

#include <fmt/format.h>

#include "scan/decoder.hpp"
#include "scan/limits.hpp"
#include "scan/refuse.hpp"
#include "scan/tiff_handle.hpp"

namespace inkwane::scan {
namespace {

/// Strips that decode to more are read row by row, so that memory does not follow the file.
constexpr std::uint64_t kLargeStrip = 32u << 20;

const char* kind_of_colour(int photometric) {
  switch (photometric) {
    case PHOTOMETRIC_MINISWHITE:
    case PHOTOMETRIC_MINISBLACK:
      return "in grey or black and white";
    case PHOTOMETRIC_PALETTE:
      return "in palette colours";
    case PHOTOMETRIC_SEPARATED:
      return "in CMYK or other ink separations";
    case PHOTOMETRIC_YCBCR:
      return "in YCbCr";
    case PHOTOMETRIC_CIELAB:
    case PHOTOMETRIC_ICCLAB:
    case PHOTOMETRIC_ITULAB:
      return "in Lab";
    case PHOTOMETRIC_CFA:
    case PHOTOMETRIC_LOGL:
    case PHOTOMETRIC_LOGLUV:
      return "raw or high-range camera data";
    default:
      return "of no known kind of colour";
  }
}

/// How many times smaller than its pixels a file of this compression can be; 0: not supported.
double best_ratio(int compression) {
  switch (compression) {
    case COMPRESSION_NONE:
      return 1;
    case COMPRESSION_PACKBITS:
      return 64;  // two bytes stand for at most 128
    case COMPRESSION_LZW:
      return 2600;  // a 12-bit code stands for at most 3,838 bytes (4,096 codes, 258 of them taken)
    case COMPRESSION_DEFLATE:
    case COMPRESSION_ADOBE_DEFLATE:
      return 1040;  // RFC 1951: two bits stand for at most 258 bytes
    case COMPRESSION_ZSTD:
    case COMPRESSION_LZMA:
      return 50'000;  // RFC 8878: a run block of 4 bytes stands for 128 KiB
    default:
      return 0;
  }
}

/// How the pixels lie in the file.
struct Layout {
  std::uint64_t directory = 0;  ///< offset of the picture's directory; 0: the first
  int samples = 3;
  bool planar = false, tiled = false;
  int band_rows = 0;   ///< rows of a strip or tile
  int tile_width = 0;  ///< 0: strips
  bool large_strips = false;
  bool plain =
      false;  ///< uncompressed, in the usual order of bits: rows can be read from where they lie
};

/// Copies the first three of `samples` interleaved values a pixel.
template <typename T>
void take_rgb(const T* from, int samples, std::uint16_t* to, int pixels) {
  constexpr int scale = sizeof(T) == 1 ? 257 : 1;
  for (int i = 0; i < pixels; ++i) {
    for (int c = 0; c < 3; ++c)
      to[3 * i + c] = static_cast<std::uint16_t>(from[samples * i + c] * scale);
  }
}

/// Copies one plane into channel `channel`.
template <typename T>
void take_plane(const T* from, int channel, std::uint16_t* to, int pixels) {
  constexpr int scale = sizeof(T) == 1 ? 257 : 1;
  for (int i = 0; i < pixels; ++i)
    to[3 * i + channel] = static_cast<std::uint16_t>(from[i] * scale);
}

class TiffDecoder final : public Decoder {
 public:
  explicit TiffDecoder(const InputFile& input);
  void decode(const InputFile& input, const cv::Rect& window, const Sink& sink) const override;

 private:
  void find_first_page(const InputFile& input, TiffHandle& handle);
  void read_colour(const InputFile& input, TIFF* tiff);
  void read_layout(const InputFile& input, TIFF* tiff);
  void read_notes(TIFF* tiff);

  std::unique_ptr<TiffHandle> open(const InputFile& input) const;
  void decode_bands(const InputFile& input, const cv::Rect& window, const Sink& sink) const;
  void decode_rows(const InputFile& input, const cv::Rect& window, const Sink& sink) const;
  bool read_plain_row(const InputFile& input, TIFF* tiff, int plane, int row,
                      std::vector<std::uint8_t>& raw) const;
  void read_strip(TiffHandle& handle, int first_row, int rows, const cv::Rect& window, cv::Mat& out,
                  std::vector<std::uint8_t>& raw, const InputFile& input) const;
  void read_tiles(TiffHandle& handle, int first_row, int rows, const cv::Rect& window, cv::Mat& out,
                  std::vector<std::uint8_t>& raw, const InputFile& input) const;
  void unpack(const std::uint8_t* raw, int plane, int skip, int pixels, std::uint16_t* to) const;

  [[nodiscard]] int bytes_a_value() const { return header_.bit_depth / 8; }
  [[nodiscard]] int planes() const { return layout_.planar ? 3 : 1; }
  /// Bytes of a pixel in one strip or tile.
  [[nodiscard]] int pixel_bytes() const {
    return (layout_.planar ? 1 : layout_.samples) * bytes_a_value();
  }

  Layout layout_;
};

[[noreturn]] void refuse_row(const InputFile& input, int row, const std::string& reason) {
  input.check_unchanged();
  refuse(input.path(),
         fmt::format("is cut off or damaged from row {} on{}; copy the original again "
                     "or scan again",
                     row, reason));
}

TiffDecoder::TiffDecoder(const InputFile& input) {
  TiffHandle handle(input);
  find_first_page(input, handle);
  TIFF* const tiff = handle.get();
  header_.stored = checked_size(input, tiff_field<std::uint32_t>(tiff, TIFFTAG_IMAGEWIDTH, 0),
                                tiff_field<std::uint32_t>(tiff, TIFFTAG_IMAGELENGTH, 0));
  read_colour(input, tiff);
  read_layout(input, tiff);
  read_notes(tiff);
}

/// The first directory that is neither a thumbnail nor a mask (TIFF 6.0, NewSubfileType).
void TiffDecoder::find_first_page(const InputFile& input, TiffHandle& handle) {
  constexpr int kMostDirectories = 64;
  TIFF* const tiff = handle.get();
  int pages = 0;
  for (int i = 0; i < kMostDirectories && pages < 2; ++i) {
    const auto subfile = tiff_field<std::uint32_t>(tiff, TIFFTAG_SUBFILETYPE, 0);
    const auto old = tiff_field<std::uint16_t>(tiff, TIFFTAG_OSUBFILETYPE, 0);
    const bool aside =
        (subfile & (FILETYPE_REDUCEDIMAGE | FILETYPE_MASK)) != 0 || old == OFILETYPE_REDUCEDIMAGE;
    if (!aside && ++pages == 1) layout_.directory = TIFFCurrentDirOffset(tiff);
    if (TIFFLastDirectory(tiff) != 0 || TIFFReadDirectory(tiff) != 1) break;
  }
  if (pages == 0) refuse(input.path(), "holds nothing but reduced pictures or masks; scan again");
  if (pages > 1) {
    header_.warnings.push_back("The file holds more than one page; only the first is read.");
  }
  handle.forget();
  if (TIFFSetSubDirectory(tiff, layout_.directory) != 1) {
    refuse(input.path(),
           fmt::format("is a TIFF whose first page cannot be read{}", handle.reason()));
  }
}

void TiffDecoder::read_colour(const InputFile& input, TIFF* tiff) {
  const auto photometric = tiff_field<std::uint16_t>(tiff, TIFFTAG_PHOTOMETRIC, 0xFFFF);
  if (photometric != PHOTOMETRIC_RGB) {
    refuse(input.path(),
           fmt::format("is {}, not in RGB; scan it again in colour, as RGB of 16 bits "
                       "a channel",
                       kind_of_colour(photometric)));
  }
  const auto depth = tiff_field<std::uint16_t>(tiff, TIFFTAG_BITSPERSAMPLE, 1);
  const auto format = tiff_field<std::uint16_t>(tiff, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_UINT);
  if (format != SAMPLEFORMAT_UINT || (depth != 8 && depth != 16)) {
    refuse(input.path(),
           fmt::format("has {} values of {} bits a channel; save it as RGB of 16 (or 8) bits",
                       format == SAMPLEFORMAT_IEEEFP ? "floating-point"
                       : format == SAMPLEFORMAT_UINT ? "whole"
                                                     : "signed or unusual",
                       depth));
  }
  header_.bit_depth = depth;
  layout_.samples = tiff_field<std::uint16_t>(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
  if (layout_.samples < 3) {
    refuse(input.path(),
           fmt::format("has {} channels instead of red, green and blue; scan it again "
                       "in colour",
                       layout_.samples));
  }
  if (layout_.samples > 3) {
    header_.warnings.push_back("The file has an alpha or other extra channel, which is ignored.");
  }
}

void TiffDecoder::read_layout(const InputFile& input, TIFF* tiff) {
  const auto compression = tiff_field<std::uint16_t>(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
  const double ratio = best_ratio(compression);
  if (ratio == 0 || TIFFIsCODECConfigured(compression) == 0) {
    const TIFFCodec* const codec = TIFFFindCODEC(compression);
    refuse(input.path(), fmt::format("is compressed with {}, which is not read here; save it "
                                     "uncompressed or with LZW or deflate compression",
                                     codec != nullptr ? codec->name : std::to_string(compression)));
  }
  const std::uint64_t pixels =
      static_cast<std::uint64_t>(header_.stored.width) * header_.stored.height;
  check_can_hold(input, header_.stored, pixels * layout_.samples * bytes_a_value(), ratio);

  layout_.planar = tiff_field<std::uint16_t>(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG) ==
                   PLANARCONFIG_SEPARATE;
  layout_.tiled = TIFFIsTiled(tiff) != 0;
  if (layout_.tiled) {
    const auto width = tiff_field<std::uint32_t>(tiff, TIFFTAG_TILEWIDTH, 0);
    const auto rows = tiff_field<std::uint32_t>(tiff, TIFFTAG_TILELENGTH, 0);
    const std::uint64_t area = static_cast<std::uint64_t>(width) * rows;
    if (area == 0 || width > 65'536 || rows > 65'536 ||
        area > static_cast<std::uint64_t>(kMaxWholePixels)) {
      refuse(input.path(),
             fmt::format("is stored in tiles of {} x {} pixels, which cannot be read; "
                         "save it in strips",
                         width, rows));
    }
    layout_.tile_width = static_cast<int>(width);
    layout_.band_rows = static_cast<int>(rows);
    if (rows > 4096) header_.whole_only = true;
  } else {
    const auto rows = tiff_field<std::uint32_t>(tiff, TIFFTAG_ROWSPERSTRIP, 0xFFFFFFFF);
    if (rows == 0) refuse(input.path(), "is stored in strips of no rows; it is damaged");
    layout_.band_rows = static_cast<int>(
        std::min<std::uint64_t>(rows, static_cast<std::uint64_t>(header_.stored.height)));
    layout_.large_strips =
        static_cast<std::uint64_t>(layout_.band_rows) * header_.stored.width * pixel_bytes() >
        kLargeStrip;
    layout_.plain =
        compression == COMPRESSION_NONE &&
        tiff_field<std::uint16_t>(tiff, TIFFTAG_FILLORDER, FILLORDER_MSB2LSB) == FILLORDER_MSB2LSB;
  }
}

void TiffDecoder::read_notes(TIFF* tiff) {
  header_.orientation = orientation_of(tiff_field<std::uint16_t>(tiff, TIFFTAG_ORIENTATION, 1));
  float x = 0, y = 0;
  const bool has_x = TIFFGetField(tiff, TIFFTAG_XRESOLUTION, &x) == 1;
  const bool has_y = TIFFGetField(tiff, TIFFTAG_YRESOLUTION, &y) == 1;
  if (has_x || has_y) {
    const auto unit = tiff_field<std::uint16_t>(tiff, TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH);
    header_.resolution = Resolution{has_x ? x : y, has_y ? y : x,
                                    unit == RESUNIT_INCH         ? 1.0
                                    : unit == RESUNIT_CENTIMETER ? 2.54
                                                                 : 0.0};
  }
  std::uint32_t length = 0;
  const std::uint8_t* profile = nullptr;
  if (TIFFGetField(tiff, TIFFTAG_ICCPROFILE, &length, &profile) == 1) {
    header_.icc.assign(profile, profile + length);
  }
}

std::unique_ptr<TiffHandle> TiffDecoder::open(const InputFile& input) const {
  auto handle = std::make_unique<TiffHandle>(input);
  if (TIFFSetSubDirectory(handle->get(), layout_.directory) != 1) {
    refuse(input.path(),
           fmt::format("is a TIFF whose first page cannot be read{}", handle->reason()));
  }
  handle->forget();
  return handle;
}

void TiffDecoder::decode(const InputFile& input, const cv::Rect& window, const Sink& sink) const {
  if (layout_.large_strips) {
    decode_rows(input, window, sink);
  } else {
    decode_bands(input, window, sink);
  }
}

/// `pixels` values of one row, `skip` pixels into `raw`, to 16-bit RGB.
void TiffDecoder::unpack(const std::uint8_t* raw, int plane, int skip, int pixels,
                         std::uint16_t* to) const {
  const std::uint8_t* const from = raw + static_cast<std::size_t>(skip) * pixel_bytes();
  const bool wide = header_.bit_depth == 16;
  // libtiff delivers 16-bit values in this machine's order, in memory aligned by its allocation.
  const auto* const values = reinterpret_cast<const std::uint16_t*>(from);
  if (layout_.planar) {
    wide ? take_plane(values, plane, to, pixels) : take_plane(from, plane, to, pixels);
  } else if (layout_.samples == 3) {
    if (wide) {
      std::copy_n(values, 3 * static_cast<std::size_t>(pixels), to);
    } else {
      widen(from, to, 3 * static_cast<std::size_t>(pixels));
    }
  } else {
    wide ? take_rgb(values, layout_.samples, to, pixels)
         : take_rgb(from, layout_.samples, to, pixels);
  }
}

void TiffDecoder::read_strip(TiffHandle& handle, int first_row, int rows, const cv::Rect& window,
                             cv::Mat& out, std::vector<std::uint8_t>& raw,
                             const InputFile& input) const {
  const std::size_t row_bytes = static_cast<std::size_t>(header_.stored.width) * pixel_bytes();
  const auto bytes = static_cast<tmsize_t>(row_bytes * rows);
  const bool direct = !layout_.planar && layout_.samples == 3 && header_.bit_depth == 16 &&
                      window.width == header_.stored.width && out.isContinuous();
  if (!direct) raw.resize(static_cast<std::size_t>(bytes));
  for (int plane = 0; plane < planes(); ++plane) {
    const std::uint32_t strip =
        TIFFComputeStrip(handle.get(), first_row, static_cast<std::uint16_t>(plane));
    void* const to = direct ? static_cast<void*>(out.data) : raw.data();
    if (TIFFReadEncodedStrip(handle.get(), strip, to, bytes) != bytes) {
      refuse_row(input, first_row, handle.reason());
    }
    if (direct) return;
    for (int r = 0; r < rows; ++r) {
      unpack(raw.data() + r * row_bytes, plane, window.x, window.width, out.ptr<std::uint16_t>(r));
    }
  }
}

void TiffDecoder::read_tiles(TiffHandle& handle, int first_row, int rows, const cv::Rect& window,
                             cv::Mat& out, std::vector<std::uint8_t>& raw,
                             const InputFile& input) const {
  const int wide = layout_.tile_width;
  const std::size_t row_bytes = static_cast<std::size_t>(wide) * pixel_bytes();
  const auto bytes = static_cast<tmsize_t>(row_bytes * layout_.band_rows);
  raw.resize(static_cast<std::size_t>(bytes));
  const int right = window.x + window.width;
  for (int plane = 0; plane < planes(); ++plane) {
    for (int left = window.x / wide * wide; left < right; left += wide) {
      const std::uint32_t tile =
          TIFFComputeTile(handle.get(), left, first_row, 0, static_cast<std::uint16_t>(plane));
      if (TIFFReadEncodedTile(handle.get(), tile, raw.data(), bytes) != bytes) {
        refuse_row(input, first_row, handle.reason());
      }
      const int from = std::max(left, window.x), to = std::min(left + wide, right);
      for (int r = 0; r < rows; ++r) {
        unpack(raw.data() + r * row_bytes, plane, from - left, to - from,
               out.ptr<std::uint16_t>(r) + 3 * static_cast<std::size_t>(from - window.x));
      }
    }
  }
}

/// Strip by strip or row of tiles by row of tiles, several of them gathered into a strip of ours.
void TiffDecoder::decode_bands(const InputFile& input, const cv::Rect& window,
                               const Sink& sink) const {
  const auto handle = open(input);
  const int band = layout_.band_rows;
  const int block_rows = std::max(1, kStripRows / band) * band;
  cv::Mat block = allocate(input.path(), std::min(block_rows, header_.stored.height), window.width);
  std::vector<std::uint8_t> raw;
  const int bottom = window.y + window.height;
  for (int top = window.y / band * band; top < bottom; top += block_rows) {
    int filled = 0;
    while (filled < block_rows && top + filled < bottom) {
      const int rows = std::min(band, header_.stored.height - top - filled);
      cv::Mat out = block.rowRange(filled, filled + rows);
      if (layout_.tiled) {
        read_tiles(*handle, top + filled, rows, window, out, raw, input);
      } else {
        read_strip(*handle, top + filled, rows, window, out, raw, input);
      }
      filled += rows;
    }
    const int first = std::max(top, window.y), last = std::min(top + filled, bottom);
    for (int row = first; row < last; row += 2 * kStripRows) {
      const int end = std::min(row + 2 * kStripRows, last);
      sink(row - window.y, block.rowRange(row - top, end - top));
    }
  }
}

/// One row of an uncompressed strip, from where it lies.
bool TiffDecoder::read_plain_row(const InputFile& input, TIFF* tiff, int plane, int row,
                                 std::vector<std::uint8_t>& raw) const {
  const std::uint32_t strip = TIFFComputeStrip(tiff, row, static_cast<std::uint16_t>(plane));
  const std::uint64_t within = static_cast<std::uint64_t>(row % layout_.band_rows) * raw.size();
  const std::uint64_t offset = TIFFGetStrileOffset(tiff, strip);
  const auto length = static_cast<std::uint64_t>(input.stamp().size);
  if (within + raw.size() > TIFFGetStrileByteCount(tiff, strip) || offset > length ||
      input.read_at(static_cast<std::int64_t>(offset + within), raw.data(), raw.size()) !=
          raw.size()) {
    return false;
  }
  if (header_.bit_depth == 16 && TIFFIsByteSwapped(tiff) != 0) {
    TIFFSwabArrayOfShort(reinterpret_cast<std::uint16_t*>(raw.data()),
                         static_cast<tmsize_t>(raw.size() / 2));
  }
  return true;
}

/// Row by row, for strips too large to be held. Planes lie far apart: each has its own handle.
void TiffDecoder::decode_rows(const InputFile& input, const cv::Rect& window,
                              const Sink& sink) const {
  std::vector<std::unique_ptr<TiffHandle>> handles;
  for (int plane = 0; plane < planes(); ++plane) handles.push_back(open(input));
  std::vector<std::uint8_t> raw(static_cast<std::size_t>(header_.stored.width) * pixel_bytes());
  // Compressed rows can only be reached through those above them in their strip.
  const int start = layout_.plain ? window.y : window.y / layout_.band_rows * layout_.band_rows;
  const int bottom = window.y + window.height;
  cv::Mat block = allocate(input.path(), std::min(kStripRows, window.height), window.width);
  for (int top = start; top < bottom; top += block.rows) {
    const int end = std::min(top + block.rows, bottom);
    for (int plane = 0; plane < planes(); ++plane) {
      TIFF* const tiff = handles[plane]->get();
      for (int row = top; row < end; ++row) {
        const bool good = layout_.plain ? read_plain_row(input, tiff, plane, row, raw)
                                        : TIFFReadScanline(tiff, raw.data(), row,
                                                           static_cast<std::uint16_t>(plane)) == 1;
        if (!good) refuse_row(input, row, handles[plane]->reason());
        unpack(raw.data(), plane, window.x, window.width, block.ptr<std::uint16_t>(row - top));
      }
    }
    const int first = std::max(top, window.y);
    if (first < end) sink(first - window.y, block.rowRange(first - top, end - top));
  }
}

}  // namespace

std::unique_ptr<Decoder> open_tiff(const InputFile& input) {
  return std::make_unique<TiffDecoder>(input);
}

}  // namespace inkwane::scan
