#include <algorithm>
#include <bit>
#include <csetjmp>

#include <fmt/format.h>
#include <png.h>

#include "scan/decoder.hpp"
#include "scan/exif.hpp"
#include "scan/limits.hpp"
#include "scan/refuse.hpp"

namespace inkwane::scan {
namespace {

/// libpng over an InputFile. libpng reports errors by a callback that must not return; ours jumps
/// back into `guarded`, over frames of libpng and of trivial callables alone, and an Error is
/// thrown from there.
class Reader {
 public:
  explicit Reader(const InputFile& input) : input_(input) {
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, this, on_error, on_warning);
    info_ = png_ != nullptr ? png_create_info_struct(png_) : nullptr;
    if (info_ == nullptr) {
      png_destroy_read_struct(&png_, nullptr, nullptr);
      throw Error(ExitCode::output,
                  input.path().string() + ": memory ran out before the file could be read.");
    }
  }
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;
  ~Reader() { png_destroy_read_struct(&png_, &info_, nullptr); }

  void read_header() {
    guarded("in its header", [this] {
      png_set_read_fn(png_, this, on_read);
      png_set_user_limits(png_, PNG_UINT_31_MAX, PNG_UINT_31_MAX);  // Header sizes are checked here
      png_set_chunk_malloc_max(png_, 64u << 20);
      png_set_compression_buffer_size(png_, 1u << 16);
      // The profile is evidence: it is handed on as it is.
      png_set_option(png_, PNG_SKIP_sRGB_CHECK_PROFILE, PNG_OPTION_ON);
      png_read_info(png_, info_);
    });
  }

  /// Runs `call`; if libpng fails in it, throws Error(scan) that says `where`. What `call` captures
  /// must have no destructor.
  template <typename Call>
  void guarded(const std::string& where, const Call& call) {
    if (setjmp(jump_) != 0) {
      input_.check_unchanged();
      refuse(input_.path(), fmt::format("is cut off or damaged {} ({}); copy the original again or "
                                        "scan again",
                                        where, message_));
    }
    call();
  }

  [[nodiscard]] png_structp png() const { return png_; }
  [[nodiscard]] png_infop info() const { return info_; }
  [[nodiscard]] bool profile_refused() const { return profile_refused_; }
  [[nodiscard]] const InputFile& input() const { return input_; }

 private:
  [[noreturn]] static void on_error(png_structp png, png_const_charp text) {
    auto* const self = static_cast<Reader*>(png_get_error_ptr(png));
    self->message_ = text;
    std::longjmp(self->jump_, 1);
  }
  static void on_warning(png_structp png, png_const_charp text) {
    auto* const self = static_cast<Reader*>(png_get_error_ptr(png));
    if (std::string_view(text).starts_with("iCCP")) self->profile_refused_ = true;
  }
  static void on_read(png_structp png, png_bytep to, std::size_t size) {
    auto* const self = static_cast<Reader*>(png_get_io_ptr(png));
    bool whole = false;
    try {
      whole = self->input_.read_at(self->offset_, to, size) == size;
    } catch (const Error&) {  // said below: no exception may cross libpng
    }
    if (!whole) png_error(png, "the file ends early");
    self->offset_ += static_cast<std::int64_t>(size);
  }

  const InputFile& input_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  std::jmp_buf jump_{};
  std::string message_;
  std::int64_t offset_ = 0;
  bool profile_refused_ = false;
};

class PngDecoder final : public Decoder {
 public:
  explicit PngDecoder(const InputFile& input);
  void decode(const InputFile& input, const cv::Rect& window, const Sink& sink) const override;

 private:
  void read_notes(Reader& reader);
  void decode_interlaced(Reader& reader, const cv::Rect& window, const Sink& sink) const;
  void unpack(const std::uint8_t* row, const cv::Rect& window, std::uint16_t* to) const;
  [[nodiscard]] std::size_t row_bytes() const {
    return static_cast<std::size_t>(header_.stored.width) * 3 * (header_.bit_depth / 8);
  }
};

PngDecoder::PngDecoder(const InputFile& input) {
  Reader reader(input);
  reader.read_header();
  const png_structp png = reader.png();
  const png_infop info = reader.info();
  header_.stored =
      checked_size(input, png_get_image_width(png, info), png_get_image_height(png, info));
  header_.bit_depth = png_get_bit_depth(png, info);
  const int colour = png_get_color_type(png, info);
  if (colour != PNG_COLOR_TYPE_RGB && colour != PNG_COLOR_TYPE_RGB_ALPHA) {
    refuse(input.path(),
           fmt::format("is in {}, not in RGB; scan it again in colour, as RGB of 16 bits "
                       "a channel",
                       colour == PNG_COLOR_TYPE_PALETTE ? "palette colours"
                       : header_.bit_depth == 1         ? "black and white"
                                                        : "grey"));
  }
  if (colour == PNG_COLOR_TYPE_RGB_ALPHA || png_get_valid(png, info, PNG_INFO_tRNS) != 0) {
    header_.warnings.push_back("The file has an alpha or other extra channel, which is ignored.");
  }
  // RFC 1951: two bits stand for at most 258 bytes.
  check_can_hold(input, header_.stored, row_bytes() * header_.stored.height, 1040);
  header_.whole_only = png_get_interlace_type(png, info) != PNG_INTERLACE_NONE;
  read_notes(reader);
}

void PngDecoder::read_notes(Reader& reader) {
  const png_structp png = reader.png();
  const png_infop info = reader.info();
  png_charp name = nullptr;
  int compression = 0;
  png_bytep profile = nullptr;
  png_uint_32 length = 0;
  if (png_get_iCCP(png, info, &name, &compression, &profile, &length) != 0) {
    header_.icc.assign(profile, profile + length);
  } else if (reader.profile_refused()) {
    refuse(reader.input().path(),
           "has an embedded ICC profile that is damaged; embed the scanner's profile anew");
  }
  header_.declares_srgb = png_get_valid(png, info, PNG_INFO_sRGB) != 0;
  if (header_.icc.empty() && !header_.declares_srgb &&
      png_get_valid(png, info, PNG_INFO_gAMA) != 0) {
    header_.warnings.push_back(
        "The file states its gamma (gAMA) in place of a profile, which is not used.");
  }

  png_uint_32 x = 0, y = 0;
  int unit = PNG_RESOLUTION_UNKNOWN;
  const bool physical = png_get_pHYs(png, info, &x, &y, &unit) != 0;
  if (physical) {
    header_.resolution = Resolution{static_cast<double>(x), static_cast<double>(y),
                                    unit == PNG_RESOLUTION_METER ? 0.0254 : 0.0};
  }
  png_bytep block = nullptr;
  png_uint_32 size = 0;
  if (png_get_eXIf_1(png, info, &size, &block) != 0) {
    const Exif exif = read_exif({block, size});
    header_.orientation = exif.orientation;
    if (!physical) header_.resolution = exif.resolution;
  }
}

void PngDecoder::unpack(const std::uint8_t* row, const cv::Rect& window, std::uint16_t* to) const {
  const std::size_t skip = 3 * static_cast<std::size_t>(window.x);
  const std::size_t values = 3 * static_cast<std::size_t>(window.width);
  if (header_.bit_depth == 16) {
    std::copy_n(reinterpret_cast<const std::uint16_t*>(row) + skip, values, to);
  } else {
    widen(row + skip, to, values);
  }
}

void PngDecoder::decode(const InputFile& input, const cv::Rect& window, const Sink& sink) const {
  Reader reader(input);
  reader.read_header();
  const png_structp png = reader.png();
  const png_infop info = reader.info();
  reader.guarded("in its header", [png, info] {
    png_set_strip_alpha(png);
    if constexpr (std::endian::native == std::endian::little) png_set_swap(png);
    png_read_update_info(png, info);
  });
  if (header_.whole_only) {
    decode_interlaced(reader, window, sink);
    return;
  }
  std::vector<std::uint8_t> row(row_bytes());
  cv::Mat block = allocate(input.path(), std::min(kStripRows, window.height), window.width);
  const int bottom = window.y + window.height;
  int filled = 0;
  for (int r = 0; r < bottom; ++r) {
    std::uint8_t* const to = row.data();
    reader.guarded(fmt::format("from row {} on", r), [png, to] { png_read_row(png, to, nullptr); });
    if (r < window.y) continue;
    unpack(to, window, block.ptr<std::uint16_t>(filled++));
    if (filled == block.rows || r + 1 == bottom) {
      sink(r + 1 - filled - window.y, block.rowRange(0, filled));
      filled = 0;
    }
  }
  if (bottom == header_.stored.height) {
    reader.guarded("after its last row", [png] { png_read_end(png, nullptr); });
  }
}

/// Interlaced files bring every row in seven passes: all of it is held.
void PngDecoder::decode_interlaced(Reader& reader, const cv::Rect& window, const Sink& sink) const {
  const std::filesystem::path& path = reader.input().path();
  // Bytes in rows of three: the same memory as 8- or 16-bit RGB.
  cv::Mat whole = allocate(path, header_.stored.height, header_.stored.width);
  std::vector<png_bytep> rows(static_cast<std::size_t>(header_.stored.height));
  for (int r = 0; r < header_.stored.height; ++r) rows[r] = whole.ptr(r);
  const png_structp png = reader.png();
  png_bytepp const to = rows.data();
  reader.guarded("somewhere in its interlaced rows", [png, to] {
    png_read_image(png, to);
    png_read_end(png, nullptr);
  });
  cv::Mat block = allocate(path, std::min(kStripRows, window.height), window.width);
  for (int top = 0; top < window.height; top += kStripRows) {
    const int count = std::min(kStripRows, window.height - top);
    for (int r = 0; r < count; ++r) {
      unpack(rows[window.y + top + r], window, block.ptr<std::uint16_t>(r));
    }
    sink(top, block.rowRange(0, count));
  }
}

}  // namespace

std::unique_ptr<Decoder> open_png(const InputFile& input) {
  return std::make_unique<PngDecoder>(input);
}

}  // namespace inkwane::scan
