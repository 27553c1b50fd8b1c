#include <algorithm>
#include <cmath>
#include <csetjmp>
#include <cstdio>
#include <cstdlib>

#include <fmt/format.h>
#include <jpeglib.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "colour/icc.hpp"
#include "map/output_file.hpp"
#include "map/picture.hpp"
#include "map/shrink.hpp"

namespace inkwane::map {
namespace {

constexpr int kQuality = 90;  // own choice: no visible blocks on flat paper at reading size

/// sRGB as encoded (IEC 61966-2-1) to light on 16 bits, and back.
struct SrgbTables {
  cv::Mat light = cv::Mat(1, 256, CV_16UC1);
  std::vector<std::uint8_t> encoded = std::vector<std::uint8_t>(65536);

  SrgbTables() {
    for (int v = 0; v < 256; ++v) {
      const double e = v / 255.0;
      const double t = e <= 0.04045 ? e / 12.92 : std::pow((e + 0.055) / 1.055, 2.4);
      light.at<std::uint16_t>(v) = static_cast<std::uint16_t>(std::lround(65535 * t));
    }
    for (int v = 0; v < 65536; ++v) {
      const double t = v / 65535.0;
      const double e = t <= 0.0031308 ? 12.92 * t : 1.055 * std::pow(t, 1 / 2.4) - 0.055;
      encoded[static_cast<std::size_t>(v)] = static_cast<std::uint8_t>(std::lround(255 * e));
    }
  }
};

/// Averages light, not code values: a fine pattern keeps its tone.
cv::Mat scaled_down(const cv::Mat& srgb, cv::Size size) {
  static const SrgbTables tables;
  cv::Mat light, small;
  cv::LUT(srgb, tables.light, light);
  cv::resize(light, small, size, 0, 0, cv::INTER_AREA);
  cv::Mat result(size, CV_8UC3);
  std::transform(small.begin<cv::Vec3w>(), small.end<cv::Vec3w>(), result.begin<cv::Vec3b>(),
                 [](const cv::Vec3w& p) {
                   return cv::Vec3b(tables.encoded[p[0]], tables.encoded[p[1]],
                                    tables.encoded[p[2]]);
                 });
  return result;
}

struct Failure {
  jpeg_error_mgr manager;
  std::jmp_buf back;
  char text[JMSG_LENGTH_MAX];
};

[[noreturn]] void jump_back(j_common_ptr state) {
  auto* failure = reinterpret_cast<Failure*>(state->err);
  failure->manager.format_message(state, failure->text);
  std::longjmp(failure->back, 1);
}

/// libjpeg jumps out of here on failure: nothing with a destructor may live in this function.
bool compress(const cv::Mat& picture, const std::vector<std::uint8_t>& profile,
              unsigned char** bytes, unsigned long* size, Failure& failure) {
  jpeg_compress_struct state;
  state.err = jpeg_std_error(&failure.manager);
  failure.manager.error_exit = &jump_back;
  if (setjmp(failure.back) != 0) {
    jpeg_destroy_compress(&state);
    return false;
  }
  jpeg_create_compress(&state);
  jpeg_mem_dest(&state, bytes, size);
  state.image_width = static_cast<JDIMENSION>(picture.cols);
  state.image_height = static_cast<JDIMENSION>(picture.rows);
  state.input_components = 3;
  state.in_color_space = JCS_RGB;
  jpeg_set_defaults(&state);
  jpeg_set_quality(&state, kQuality, TRUE);
  state.optimize_coding = TRUE;
  // Colour at full resolution: saturated print beside bare paper must not smear.
  state.comp_info[0].h_samp_factor = state.comp_info[0].v_samp_factor = 1;
  jpeg_start_compress(&state, TRUE);
  jpeg_write_icc_profile(&state, profile.data(), static_cast<unsigned>(profile.size()));
  while (state.next_scanline < state.image_height) {
    JSAMPROW row = const_cast<JSAMPROW>(picture.ptr(static_cast<int>(state.next_scanline)));
    jpeg_write_scanlines(&state, &row, 1);
  }
  jpeg_finish_compress(&state);
  jpeg_destroy_compress(&state);
  return true;
}

}  // namespace

std::vector<unsigned char> encode_jpeg(const cv::Mat& srgb) {
  CV_Assert(srgb.type() == CV_8UC3);
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  Failure failure;
  const bool compressed = compress(srgb, colour::srgb_profile(), &bytes, &size, failure);
  const std::unique_ptr<unsigned char, decltype(&std::free)> owner(bytes, &std::free);
  if (!compressed) throw Error(ExitCode::output, fmt::format("a picture: {}.", failure.text));
  return {bytes, bytes + size};
}

double write_jpeg(const std::filesystem::path& file, const cv::Mat& srgb, int longest_px) {
  CV_Assert(srgb.type() == CV_8UC3 && longest_px > 0);
  const auto [reduced_size, factor] = reduced(srgb.size(), longest_px);
  const cv::Mat picture = factor > 1 ? scaled_down(srgb, reduced_size) : srgb;
  OutputFile output(file);
  output.write(encode_jpeg(picture));
  output.commit();
  return factor;
}

}  // namespace inkwane::map
