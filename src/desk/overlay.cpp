#include "desk/overlay.hpp"

#include <algorithm>
#include <cmath>
#include <memory>

#include <cairo.h>
#include <fmt/format.h>
#include <tiffio.h>

#include <inkwane/error.hpp>

#include "map/scale.hpp"
#include "map/shrink.hpp"

namespace inkwane::desk {
namespace {

const map::Scale& scale_of(const map::Style& style) {
  return style.diverging ? map::diverging_scale() : map::sequential_scale();
}

[[noreturn]] void fail(const std::filesystem::path& file) {
  throw Error(ExitCode::scan,
              fmt::format("{}: is not a map of one channel that can be read; assess "
                          "again.",
                          file.string()));
}

using Tiff = std::unique_ptr<TIFF, decltype(&TIFFClose)>;

Tiff open(const std::filesystem::path& file) {
  const auto silent = [](const char*, const char*, va_list) {};  // our sentence says it
  TIFFSetErrorHandler(silent);
  TIFFSetWarningHandler(silent);
  Tiff tiff(TIFFOpen(file.c_str(), "r"), &TIFFClose);
  if (!tiff) fail(file);
  return tiff;
}

cv::Size size_of(TIFF* tiff, const std::filesystem::path& file) {
  std::uint32_t width = 0, height = 0;
  std::uint16_t bits = 0, samples = 1, format = 0;
  TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
  TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
  TIFFGetField(tiff, TIFFTAG_BITSPERSAMPLE, &bits);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &samples);
  TIFFGetField(tiff, TIFFTAG_SAMPLEFORMAT, &format);
  constexpr std::uint32_t kLargest = 60'000;
  if (width == 0 || height == 0 || width > kLargest || height > kLargest || bits != 32 ||
      samples != 1 || format != SAMPLEFORMAT_IEEEFP ||
      static_cast<std::size_t>(TIFFScanlineSize(tiff)) != width * sizeof(float)) {
    fail(file);
  }
  return {static_cast<int>(width), static_cast<int>(height)};
}

}  // namespace

cv::Size map_size(const std::filesystem::path& file) {
  return size_of(open(file).get(), file);
}

cv::Mat read_map(const std::filesystem::path& file) {
  const Tiff tiff = open(file);
  cv::Mat values(size_of(tiff.get(), file), CV_32FC1);
  for (int row = 0; row < values.rows; ++row) {
    if (TIFFReadScanline(tiff.get(), values.ptr(row), static_cast<std::uint32_t>(row)) != 1) {
      fail(file);
    }
  }
  return values;
}

std::vector<unsigned char> overlay_png(const cv::Mat& values, const map::Style& style,
                                       int longest_px) {
  const double factor = std::max(1.0, std::max(values.cols, values.rows) / double(longest_px));
  const cv::Mat shown = map::resized_values(values, {std::max(1, cvRound(values.cols / factor)),
                                                     std::max(1, cvRound(values.rows / factor))});
  cv::Mat pixels(shown.size(), CV_8UC4, cv::Scalar::all(0));  // B G R A on little-endian machines
  for (int y = 0; y < shown.rows; ++y) {
    for (int x = 0; x < shown.cols; ++x) {
      const double v = static_cast<double>(shown.at<float>(y, x));
      if (std::isnan(v) || (style.diverging ? std::abs(v) : v) <= style.see_through) continue;
      const map::Rgb rgb =
          scale_of(style)[static_cast<std::size_t>(map::scale_step(v, style.low, style.high))];
      auto* const word = pixels.ptr<std::uint32_t>(y) + x;
      *word = 0xFF000000U | static_cast<unsigned>(rgb[0] << 16) |
              static_cast<unsigned>(rgb[1] << 8) | rgb[2];
    }
  }
  const std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface(
      cairo_image_surface_create_for_data(pixels.data, CAIRO_FORMAT_ARGB32, pixels.cols,
                                          pixels.rows, static_cast<int>(pixels.step)),
      &cairo_surface_destroy);
  std::vector<unsigned char> png;
  const auto append = [](void* to, const unsigned char* bytes, unsigned size) {
    auto* out = static_cast<std::vector<unsigned char>*>(to);
    out->insert(out->end(), bytes, bytes + size);
    return CAIRO_STATUS_SUCCESS;
  };
  if (cairo_surface_write_to_png_stream(surface.get(), append, &png) != CAIRO_STATUS_SUCCESS) {
    throw Error(ExitCode::output,
                "a map could not be made into a picture; memory may have run out.");
  }
  return png;
}

std::vector<std::string> scale_colours(const map::Style& style, int count) {
  std::vector<std::string> colours;
  for (int i = 0; i < count; ++i) {
    const auto& rgb =
        scale_of(style)[static_cast<std::size_t>(i * (map::kScaleSteps - 1) / (count - 1))];
    colours.push_back(fmt::format("#{:02x}{:02x}{:02x}", rgb[0], rgb[1], rgb[2]));
  }
  return colours;
}

}  // namespace inkwane::desk
