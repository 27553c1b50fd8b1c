#include "map/sheet.hpp"

#include <cmath>
#include <new>
#include <vector>

#include <pango/pangocairo.h>
#include <png.h>

#include "map/output_file.hpp"

namespace inkwane::map {
namespace {

constexpr const char* kFont = "DejaVu Sans";
constexpr double kTextInk = 0.88;  // not quite black

struct Unref {
  void operator()(PangoLayout* layout) const { g_object_unref(layout); }
  void operator()(PangoFontDescription* font) const { pango_font_description_free(font); }
};

std::unique_ptr<PangoLayout, Unref> make_layout(cairo_t* pen, const std::string& words,
                                                double size_px, Sheet::Weight weight) {
  std::unique_ptr<PangoLayout, Unref> layout(pango_cairo_create_layout(pen));
  const std::unique_ptr<PangoFontDescription, Unref> font(pango_font_description_new());
  pango_font_description_set_family_static(font.get(), kFont);
  pango_font_description_set_absolute_size(font.get(), size_px * PANGO_SCALE);
  pango_font_description_set_weight(
      font.get(), weight == Sheet::Weight::bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_layout_set_font_description(layout.get(), font.get());
  pango_layout_set_single_paragraph_mode(layout.get(), TRUE);
  pango_layout_set_text(layout.get(), words.c_str(), static_cast<int>(words.size()));
  return layout;
}

/// The same colours a little darker, or lighter where they are dark, so that lines show on both.
Scale for_outlines(const Scale& scale) {
  Scale outlines = scale;
  for (Rgb& colour : outlines) {
    const bool light = colour[0] + colour[1] + colour[2] > 240;
    for (auto& channel : colour)
      channel = static_cast<std::uint8_t>(light ? std::lround(0.86 * channel)
                                                : 255 - std::lround(0.86 * (255 - channel)));
  }
  return outlines;
}

}  // namespace

Sheet::Sheet(cv::Size size, const Scale& scale)
    : scale_(scale),
      outlines_(for_outlines(scale)),
      paint_(size, CV_8UC1, cv::Scalar(kGreys - 1)),
      ink_(cairo_image_surface_create(CAIRO_FORMAT_A8, size.width, size.height),
           &cairo_surface_destroy),
      pen_(cairo_create(ink_.get()), &cairo_destroy) {
  if (cairo_status(pen_.get()) != CAIRO_STATUS_SUCCESS) throw std::bad_alloc();
  cairo_set_source_rgba(pen_.get(), 0, 0, 0, kTextInk);
}

std::uint8_t Sheet::grey(int level) {
  return static_cast<std::uint8_t>((level * (kGreys - 1) + 127) / 255);
}

void Sheet::text(cv::Point at, const std::string& words, double size_px, Weight weight, Align align,
                 int width) {
  const auto layout = make_layout(pen_.get(), words, size_px, weight);
  if (width > 0) {
    pango_layout_set_width(layout.get(), width * PANGO_SCALE);
    pango_layout_set_ellipsize(layout.get(), PANGO_ELLIPSIZE_END);
  }
  int text_width = 0;
  pango_layout_get_pixel_size(layout.get(), &text_width, nullptr);
  if (align == Align::centre) at.x -= text_width / 2;
  if (align == Align::right) at.x -= text_width;
  cairo_move_to(pen_.get(), at.x, at.y);
  pango_cairo_show_layout(pen_.get(), layout.get());
}

void Sheet::plate(cv::Point at, const std::string& words, double size_px) {
  constexpr int kPadding = 12;
  const auto layout = make_layout(pen_.get(), words, size_px, Weight::bold);
  int width = 0, height = 0;
  pango_layout_get_pixel_size(layout.get(), &width, &height);
  cairo_rectangle(pen_.get(), at.x, at.y, width + 2 * kPadding, height + kPadding);
  cairo_fill(pen_.get());
  cairo_save(pen_.get());
  cairo_set_operator(pen_.get(), CAIRO_OPERATOR_DEST_OUT);
  cairo_set_source_rgba(pen_.get(), 0, 0, 0, 1);
  cairo_move_to(pen_.get(), at.x + kPadding, at.y + kPadding / 2);
  pango_cairo_show_layout(pen_.get(), layout.get());
  cairo_restore(pen_.get());
}

void Sheet::line(cv::Point2d from, cv::Point2d to, double width) {
  cairo_set_line_width(pen_.get(), width);
  cairo_move_to(pen_.get(), from.x, from.y);
  cairo_line_to(pen_.get(), to.x, to.y);
  cairo_stroke(pen_.get());
}

void Sheet::frame(const cv::Rect& around) {
  cairo_set_line_width(pen_.get(), 1);
  cairo_rectangle(pen_.get(), around.x - 0.5, around.y - 0.5, around.width + 1, around.height + 1);
  cairo_stroke(pen_.get());
}

void Sheet::put_ink_on_paint() {
  cairo_surface_flush(ink_.get());
  const int stride = cairo_image_surface_get_stride(ink_.get());
  const unsigned char* alpha = cairo_image_surface_get_data(ink_.get());
  for (int row = 0; row < paint_.rows; ++row, alpha += stride) {
    auto* paint = paint_.ptr(row);
    for (int column = 0; column < paint_.cols; ++column) {
      if (alpha[column] == 0) continue;
      // On a colour of the scale there are no half-tones of ink to mix.
      if (paint[column] >= kGreys && alpha[column] < 128) continue;
      const int ground = paint[column] < kGreys ? paint[column] : kGreys - 1;
      paint[column] = static_cast<std::uint8_t>(ground * (255 - alpha[column]) / 255);
    }
  }
}

void Sheet::write(const std::filesystem::path& file) {
  put_ink_on_paint();
  std::vector<png_byte> colours;
  for (int i = 0; i < kGreys; ++i)
    colours.insert(colours.end(), 3, static_cast<png_byte>((i * 255 + 63) / (kGreys - 1)));
  for (const Scale* scale : {&scale_, &outlines_})
    for (const Rgb& colour : *scale) colours.insert(colours.end(), colour.begin(), colour.end());

  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(paint_.cols);
  image.height = static_cast<png_uint_32>(paint_.rows);
  image.format = PNG_FORMAT_RGB_COLORMAP;
  image.flags = PNG_IMAGE_FLAG_FAST;
  image.colormap_entries = 256;
  OutputFile output(file);
  const int written =
      png_image_write_to_stdio(&image, output.stream(), 0, paint_.data,
                               static_cast<png_int_32>(paint_.step), colours.data());
  if (written == 0) {
    const std::string reason = image.message;
    png_image_free(&image);
    output.fail(reason);
  }
  output.commit();
}

}  // namespace inkwane::map
