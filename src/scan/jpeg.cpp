#include <algorithm>
#include <array>
#include <cmath>
#include <csetjmp>
#include <cstdio>
#include <cstdlib>
#include <cstring>

#include <Eigen/Core>
#include <fmt/format.h>
#include <jerror.h>
#include <jpeglib.h>
#include <unistd.h>

#include "scan/decoder.hpp"
#include "scan/exif.hpp"
#include "scan/limits.hpp"
#include "scan/refuse.hpp"

namespace inkwane::scan {
namespace {

/// A progressive file may hold any number of passes over the picture; writers use about ten.
constexpr int kMostPasses = 200;

/// libjpeg over an InputFile. Fatal errors come by a callback that must not return; ours jumps back
/// into `guarded`, over frames of libjpeg and of trivial callables alone, and an Error is thrown
/// from there. What libjpeg calls a warning in the picture's data is made-up pixels: an error too.
class Reader {
 public:
  explicit Reader(const InputFile& input) : input_(input) {
    const int descriptor = ::dup(input.descriptor());
    file_ = descriptor >= 0 ? ::fdopen(descriptor, "rb") : nullptr;
    if (file_ == nullptr || std::fseek(file_, 0, SEEK_SET) != 0) {
      if (file_ != nullptr) std::fclose(file_);
      refuse(input.path(), "could not be read; too many files may be open");
    }
    jpeg_.err = jpeg_std_error(&errors_);
    jpeg_.client_data = this;
    errors_.error_exit = on_error;
    errors_.emit_message = on_message;
    progress_.progress_monitor = on_progress;
    if (setjmp(jump_) == 0) {
      jpeg_create_decompress(&jpeg_);
      jpeg_.progress = &progress_;
      jpeg_stdio_src(&jpeg_, file_);
      jpeg_save_markers(&jpeg_, JPEG_APP0 + 1, 0xFFFF);
      jpeg_save_markers(&jpeg_, JPEG_APP0 + 2, 0xFFFF);
      created_ = true;
    }
    if (!created_) {
      std::fclose(file_);
      throw Error(ExitCode::output,
                  input.path().string() + ": memory ran out before the file could be read.");
    }
  }
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;
  ~Reader() {
    jpeg_destroy_decompress(&jpeg_);
    std::fclose(file_);
  }

  void read_header() {
    guarded("in its header", [this] { jpeg_read_header(&jpeg_, TRUE); });
  }

  /// Runs `call`; if libjpeg fails in it, throws Error(scan) that says `where`, or else which row
  /// was reached. What `call` captures must have no destructor.
  template <typename Call>
  void guarded(const std::string& where, const Call& call) {
    if (setjmp(jump_) != 0) refuse_damage(where);
    call();
  }

  /// Throws Error(scan) if libjpeg had to make up pixels since `forget_warnings`.
  void check_complete(const std::string& where) {
    if (!message_.empty()) refuse_damage(where);
  }
  void forget_warnings() { message_.clear(); }

  [[nodiscard]] jpeg_decompress_struct& jpeg() { return jpeg_; }
  [[nodiscard]] const InputFile& input() const { return input_; }

 private:
  [[noreturn]] void refuse_damage(const std::string& where) {
    input_.check_unchanged();
    std::string place = where;
    if (where.empty()) {
      place = jpeg_has_multiple_scans(&jpeg_) != 0
                  ? "somewhere in its progressive rows"
                  : fmt::format("from row {} on", static_cast<int>(row_));
    }
    refuse(input_.path(), fmt::format("is cut off or damaged {} ({}); copy the original again or "
                                      "scan again",
                                      place, message_));
  }
  void keep_message(j_common_ptr jpeg) {
    std::array<char, JMSG_LENGTH_MAX> text{};
    errors_.format_message(jpeg, text.data());
    message_ = text.data();
    row_ = jpeg_.input_iMCU_row * static_cast<JDIMENSION>(jpeg_.max_v_samp_factor * DCTSIZE);
  }
  [[noreturn]] static void on_error(j_common_ptr jpeg) {
    auto* const self = static_cast<Reader*>(jpeg->client_data);
    self->keep_message(jpeg);
    std::longjmp(self->jump_, 1);
  }
  static void on_message(j_common_ptr jpeg, int level) {
    auto* const self = static_cast<Reader*>(jpeg->client_data);
    // Filling bytes before a marker harm nothing.
    const bool harmless = level >= 0 || self->errors_.msg_code == JWRN_EXTRANEOUS_DATA;
    if (!harmless && self->message_.empty()) self->keep_message(jpeg);
  }
  static void on_progress(j_common_ptr jpeg) {
    if (reinterpret_cast<j_decompress_ptr>(jpeg)->input_scan_number <= kMostPasses) return;
    auto* const self = static_cast<Reader*>(jpeg->client_data);
    self->message_ = fmt::format("more than {} passes", kMostPasses);
    std::longjmp(self->jump_, 1);
  }

  const InputFile& input_;
  std::FILE* file_ = nullptr;
  jpeg_decompress_struct jpeg_{};
  jpeg_error_mgr errors_{};
  jpeg_progress_mgr progress_{};
  std::jmp_buf jump_{};
  std::string message_;
  JDIMENSION row_ = 0;  // that libjpeg had reached when it complained
  bool created_ = false;
};

class JpegDecoder final : public Decoder {
 public:
  explicit JpegDecoder(const InputFile& input);
  void decode(const InputFile& input, const cv::Rect& window, const Sink& sink) const override;

 private:
  void read_profile(Reader& reader);
  void read_notes(jpeg_decompress_struct& jpeg);
};

JpegDecoder::JpegDecoder(const InputFile& input) {
  Reader reader(input);
  reader.read_header();
  jpeg_decompress_struct& jpeg = reader.jpeg();
  header_.stored = checked_size(input, jpeg.image_width, jpeg.image_height);
  header_.bit_depth = jpeg.data_precision;
  if (jpeg.jpeg_color_space != JCS_YCbCr && jpeg.jpeg_color_space != JCS_RGB) {
    const bool grey = jpeg.jpeg_color_space == JCS_GRAYSCALE;
    refuse(input.path(),
           fmt::format("is in {}, not in RGB; scan it again in colour, as RGB of 16 bits "
                       "a channel",
                       grey                       ? "grey"
                       : jpeg.num_components == 4 ? "CMYK"
                                                  : "an unknown kind of colour"));
  }
  // With the shortest codes a block of 64 values takes two bits; progressive files do somewhat
  // better.
  check_can_hold(input, header_.stored, 3ull * header_.stored.width * header_.stored.height, 2000);
  header_.whole_only = true;  // its coefficients are
  read_profile(reader);
  read_notes(jpeg);
}

void JpegDecoder::read_profile(Reader& reader) {
  static constexpr std::array<char, 12> kMark{'I', 'C', 'C', '_', 'P', 'R',
                                              'O', 'F', 'I', 'L', 'E', 0};
  jpeg_decompress_struct& jpeg = reader.jpeg();
  bool marked = false;
  for (auto* marker = jpeg.marker_list; marker != nullptr; marker = marker->next) {
    marked = marked || (marker->marker == JPEG_APP0 + 2 && marker->data_length > kMark.size() &&
                        std::memcmp(marker->data, kMark.data(), kMark.size()) == 0);
  }
  if (!marked) return;
  JOCTET* profile = nullptr;
  unsigned int length = 0;
  bool read = false;
  reader.guarded("in its profile", [&jpeg, &profile, &length, &read] {
    read = jpeg_read_icc_profile(&jpeg, &profile, &length) != 0;
  });
  const std::unique_ptr<JOCTET, decltype(&std::free)> owner(profile, std::free);
  if (!read) {
    refuse(reader.input().path(),
           "has an embedded ICC profile that is damaged; embed the scanner's profile anew");
  }
  header_.icc.assign(profile, profile + length);
}

void JpegDecoder::read_notes(jpeg_decompress_struct& jpeg) {
  static constexpr std::array<char, 6> kMark{'E', 'x', 'i', 'f', 0, 0};
  for (auto* marker = jpeg.marker_list; marker != nullptr; marker = marker->next) {
    if (marker->marker == JPEG_APP0 + 1 && marker->data_length > kMark.size() &&
        std::memcmp(marker->data, kMark.data(), kMark.size()) == 0) {
      const Exif exif =
          read_exif({marker->data + kMark.size(), marker->data_length - kMark.size()});
      header_.orientation = exif.orientation;
      header_.resolution = exif.resolution;
      break;
    }
  }
  // JFIF's density, where it is one: unit 0 states only the shape of a pixel.
  const bool stated = jpeg.saw_JFIF_marker != 0 && jpeg.X_density > 0 && jpeg.Y_density > 0;
  if (stated && (jpeg.density_unit != 0 || !header_.resolution)) {
    header_.resolution =
        Resolution{static_cast<double>(jpeg.X_density), static_cast<double>(jpeg.Y_density),
                   jpeg.density_unit == 1   ? 1.0
                   : jpeg.density_unit == 2 ? 2.54
                                            : 0.0};
  }
}

// libjpeg's own output is rounded to 8 bits: up to half a step off in each of Y, Cb and Cr wherever
// a block is flat, as a target's patches are, and 1 ΔE00 in a dark patch. So its coefficients are
// read, and pixels made of them in float.

using Block = Eigen::Matrix<float, DCTSIZE, DCTSIZE, Eigen::RowMajor>;

/// The cosine transform's matrix, rows by frequency (ITU-T T.81, A.3.3).
Block cosines() {
  Block c;
  for (int u = 0; u < DCTSIZE; ++u) {
    for (int x = 0; x < DCTSIZE; ++x) {
      c(u, x) = static_cast<float>((u == 0 ? std::sqrt(0.125) : 0.5) *
                                   std::cos((2 * x + 1) * u * CV_PI / (2 * DCTSIZE)));
    }
  }
  return c;
}

/// Samples, 0–255 and beyond where compression rang, of one row of blocks.
void inverse_transform(const JBLOCK* blocks, const jpeg_component_info& component, const Block& c,
                       cv::Mat samples) {
  Block steps;
  for (int k = 0; k < DCTSIZE2; ++k)
    steps.data()[k] = static_cast<float>(component.quant_table->quantval[k]);
  for (JDIMENSION b = 0; b < component.width_in_blocks; ++b) {
    const Block frequencies =
        Eigen::Map<const Eigen::Matrix<JCOEF, DCTSIZE, DCTSIZE, Eigen::RowMajor>>(blocks[b])
            .cast<float>()
            .cwiseProduct(steps);
    const Block pixels = c.transpose() * frequencies * c;
    for (int y = 0; y < DCTSIZE; ++y) {
      auto* to = samples.ptr<float>(y) + static_cast<std::ptrdiff_t>(b) * DCTSIZE;
      for (int x = 0; x < DCTSIZE; ++x) to[x] = pixels(y, x) + CENTERJSAMPLE;
    }
  }
}

std::uint16_t encoded(float value) {
  return cv::saturate_cast<std::uint16_t>(257 * value);
}

/// The three components of some rows as RGB: as they are, or YCbCr (ITU-T T.871, section 7).
cv::Vec3w pixel(const cv::Vec3f& v, bool ycc) {
  if (!ycc) return {encoded(v[0]), encoded(v[1]), encoded(v[2])};
  const float cb = v[1] - CENTERJSAMPLE, cr = v[2] - CENTERJSAMPLE;
  return {encoded(v[0] + 1.402F * cr), encoded(v[0] - 0.344136F * cb - 0.714136F * cr),
          encoded(v[0] + 1.772F * cb)};
}

void JpegDecoder::decode(const InputFile& input, const cv::Rect& window, const Sink& sink) const {
  Reader reader(input);
  reader.read_header();
  jpeg_decompress_struct& jpeg = reader.jpeg();
  reader.forget_warnings();
  jvirt_barray_ptr* arrays = nullptr;
  reader.guarded({}, [&jpeg, &arrays] { arrays = jpeg_read_coefficients(&jpeg); });
  reader.check_complete({});

  const Block transform = cosines();
  const bool ycc = jpeg.jpeg_color_space == JCS_YCbCr;
  const int band_rows = jpeg.max_v_samp_factor * DCTSIZE;
  std::array<cv::Mat, 3> samples;
  std::array<std::vector<int>, 3> columns;  // of the samples, by the window's column
  for (int k = 0; k < 3; ++k) {
    const jpeg_component_info& component = jpeg.comp_info[k];
    samples[k].create(component.v_samp_factor * DCTSIZE,
                      static_cast<int>(component.width_in_blocks) * DCTSIZE, CV_32FC1);
    for (int x = 0; x < window.width; ++x)
      columns[k].push_back((window.x + x) * component.h_samp_factor / jpeg.max_h_samp_factor);
  }

  cv::Mat strip = allocate(input.path(), std::min(kStripRows, window.height), window.width);
  const int bottom = window.y + window.height;
  int filled = 0;
  for (int band = window.y / band_rows; band * band_rows < bottom; ++band) {
    for (int k = 0; k < 3; ++k) {
      const jpeg_component_info& component = jpeg.comp_info[k];
      for (int row = 0; row < component.v_samp_factor; ++row) {
        const JDIMENSION at = static_cast<JDIMENSION>(band * component.v_samp_factor + row);
        if (at >= component.height_in_blocks) break;
        JBLOCKARRAY blocks = nullptr;
        reader.guarded({}, [&jpeg, &arrays, &blocks, k, at] {
          blocks = jpeg.mem->access_virt_barray(reinterpret_cast<j_common_ptr>(&jpeg), arrays[k],
                                                at, 1, FALSE);
        });
        inverse_transform(blocks[0], component, transform,
                          samples[k].rowRange(row * DCTSIZE, (row + 1) * DCTSIZE));
      }
    }
    const int first = std::max(window.y, band * band_rows);
    for (int y = first; y < std::min(bottom, (band + 1) * band_rows); ++y) {
      std::array<const float*, 3> from{};
      for (int k = 0; k < 3; ++k)
        from[k] = samples[k].ptr<float>((y - band * band_rows) * jpeg.comp_info[k].v_samp_factor /
                                        jpeg.max_v_samp_factor);
      auto* to = strip.ptr<cv::Vec3w>(filled++);
      for (int x = 0; x < window.width; ++x) {
        to[x] =
            pixel({from[0][columns[0][x]], from[1][columns[1][x]], from[2][columns[2][x]]}, ycc);
      }
      if (filled == strip.rows || y + 1 == bottom) {
        sink(y + 1 - filled - window.y, strip.rowRange(0, filled));
        filled = 0;
      }
    }
  }
}

}  // namespace

std::unique_ptr<Decoder> open_jpeg(const InputFile& input) {
  return std::make_unique<JpegDecoder>(input);
}

}  // namespace inkwane::scan
