#include <vector>

#include <png.h>

#include "map/output_file.hpp"
#include "map/picture.hpp"
#include "map/scale.hpp"
#include "map/shrink.hpp"

namespace inkwane::map {

double write_overlay(const std::filesystem::path& file, const cv::Mat& values, const Style& style,
                     int longest_px) {
  const auto [size, factor] = reduced(values.size(), longest_px);
  const cv::Mat shown = resized_values(values, size);
  cv::Mat paint(size, CV_8UC1, cv::Scalar(0));  // 0: nothing; then the steps of the scale
  for (int row = 0; row < size.height; ++row) {
    for (int column = 0; column < size.width; ++column) {
      if (const auto step = painted_step(double{shown.at<float>(row, column)}, style))
        paint.at<std::uint8_t>(row, column) = static_cast<std::uint8_t>(1 + *step);
    }
  }
  std::vector<png_byte> colours(4, 0);
  for (const Rgb& colour : style.diverging ? diverging_scale() : sequential_scale())
    colours.insert(colours.end(), {colour[0], colour[1], colour[2], 255});
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(size.width);
  image.height = static_cast<png_uint_32>(size.height);
  image.format = PNG_FORMAT_RGBA_COLORMAP;
  image.colormap_entries = 1 + kScaleSteps;
  OutputFile output(file);
  if (png_image_write_to_stdio(&image, output.stream(), 0, paint.data,
                               static_cast<png_int_32>(paint.step), colours.data()) == 0) {
    const std::string reason = image.message;
    png_image_free(&image);
    output.fail(reason);
  }
  output.commit();
  return factor;
}

}  // namespace inkwane::map
