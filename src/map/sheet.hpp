// The paper a map is drawn on: a picture of 256 colours, half of them greys, half of a scale.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include <opencv2/core.hpp>

#include "map/scale.hpp"

using cairo_t = struct _cairo;
using cairo_surface_t = struct _cairo_surface;

namespace inkwane::map {

/// Places in pixels from the top left. Text and lines are ink on top of what was painted.
class Sheet {
 public:
  enum class Weight { normal, bold };
  enum class Align { left, centre, right };

  Sheet(cv::Size size, const Scale& scale);

  /// Indices of colours (CV_8UC1), to paint in.
  [[nodiscard]] cv::Mat& paint() { return paint_; }
  static std::uint8_t grey(int level);  ///< index of the grey nearest to the sRGB level 0–255
  static std::uint8_t step(int scale_step) {
    return static_cast<std::uint8_t>(kGreys + scale_step);
  }
  /// A step of the scale where an outline of the print runs: a little off in lightness.
  static std::uint8_t outline_step(int scale_step) {
    return static_cast<std::uint8_t>(kGreys + kScaleSteps + scale_step);
  }

  /// One line, `at` its top left, top centre or top right; cut with an ellipsis at `width` (0:
  /// never).
  void text(cv::Point at, const std::string& words, double size_px, Weight weight = Weight::normal,
            Align align = Align::left, int width = 0);
  /// White on a dark plate.
  void plate(cv::Point at, const std::string& words, double size_px);
  void line(cv::Point2d from, cv::Point2d to, double width);
  void frame(const cv::Rect& around);  ///< a hairline outside the rectangle

  /// PNG, sRGB. Throws Error(output).
  void write(const std::filesystem::path& file);

 private:
  static constexpr int kGreys = 128;
  static_assert(kGreys + 2 * kScaleSteps == 256);

  void put_ink_on_paint();

  Scale scale_, outlines_;
  cv::Mat paint_;
  std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)> ink_;
  std::unique_ptr<cairo_t, void (*)(cairo_t*)> pen_;
};

}  // namespace inkwane::map
