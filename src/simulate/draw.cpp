#include "simulate/draw.hpp"

#include <algorithm>
#include <cmath>

#include <cairo/cairo.h>
#include <pango/pangocairo.h>

#include <inkwane/error.hpp>

namespace inkwane::simulate {
namespace {

// Paths are kept in Cairo's fixed-point device units of 1/256; at this scale that is 0.02 µm.
constexpr double kPathUnitsPerMm = 200;

struct SurfaceFree {
  void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
};
struct ContextFree {
  void operator()(cairo_t* context) const { cairo_destroy(context); }
};
struct ObjectFree {
  void operator()(void* object) const { g_object_unref(object); }
};
struct FontFree {
  void operator()(PangoFontDescription* font) const { pango_font_description_free(font); }
};
using Surface = std::unique_ptr<cairo_surface_t, SurfaceFree>;
using Context = std::unique_ptr<cairo_t, ContextFree>;

void require_ok(cairo_t* context) {
  if (const cairo_status_t status = cairo_status(context); status != CAIRO_STATUS_SUCCESS) {
    throw Error(ExitCode::output, std::string("Drawing the simulated print failed (") +
                                      cairo_status_to_string(status) +
                                      "); make the sheet smaller or free memory.");
  }
}

void add_polygon(cairo_t* context, const Polygon& polygon, bool closed) {
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    if (i == 0) {
      cairo_move_to(context, polygon[i].x, polygon[i].y);
    } else {
      cairo_line_to(context, polygon[i].x, polygon[i].y);
    }
  }
  if (closed) cairo_close_path(context);
}

void add_text(cairo_t* context, const Area& area) {
  const Text& text = area.text;
  // Pango measures in 1/1024 of a unit; a unit is 0.01 mm here.
  constexpr double kUnitsPerMm = 100;
  cairo_save(context);
  cairo_scale(context, 1 / kUnitsPerMm, 1 / kUnitsPerMm);
  const std::unique_ptr<PangoLayout, ObjectFree> layout(pango_cairo_create_layout(context));
  // Unhinted, so that letters have the same form at every pitch.
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  pango_cairo_context_set_font_options(pango_layout_get_context(layout.get()), options);
  cairo_font_options_destroy(options);
  const std::unique_ptr<PangoFontDescription, FontFree> font(
      pango_font_description_from_string(text.font.c_str()));
  pango_font_description_set_absolute_size(font.get(), text.size_mm * kUnitsPerMm * PANGO_SCALE);
  pango_layout_set_font_description(layout.get(), font.get());
  if (text.width_mm > 0) {
    pango_layout_set_width(layout.get(),
                           static_cast<int>(text.width_mm * kUnitsPerMm * PANGO_SCALE));
  }
  pango_layout_set_alignment(
      layout.get(), text.align == Text::Align::centre ? PANGO_ALIGN_CENTER : PANGO_ALIGN_LEFT);
  pango_layout_set_justify(layout.get(), text.align == Text::Align::justified ? TRUE : FALSE);
  pango_layout_set_text(layout.get(), text.words.c_str(), static_cast<int>(text.words.size()));

  cv::Point2d at = area.outline_mm.front();
  if (text.align == Text::Align::centre) {
    int width = 0;
    pango_layout_get_size(layout.get(), &width, nullptr);
    at.x -= (text.width_mm > 0 ? text.width_mm : width / (kUnitsPerMm * PANGO_SCALE)) / 2;
  }
  cairo_translate(context, at.x * kUnitsPerMm, at.y * kUnitsPerMm);
  pango_cairo_layout_path(context, layout.get());
  cairo_restore(context);
}

}  // namespace

struct Shape::Path {
  cairo_path_t* path = nullptr;
  double line_mm = 0;
  bool even_odd = true;
  Path() = default;
  Path(const Path&) = delete;
  Path& operator=(const Path&) = delete;
  ~Path() { cairo_path_destroy(path); }
};

Shape::Shape(const Area& area) {
  // Without bounds: Cairo leaves out letters that lie off a surface, from paths too.
  const Surface surface(cairo_recording_surface_create(CAIRO_CONTENT_ALPHA, nullptr));
  const Context context(cairo_create(surface.get()));
  cairo_scale(context.get(), kPathUnitsPerMm, kPathUnitsPerMm);
  cairo_set_tolerance(context.get(), 0.1);
  const bool lettering = !area.text.words.empty();
  if (lettering) {
    add_text(context.get(), area);
  } else {
    add_polygon(context.get(), area.outline_mm, area.line_mm == 0 || area.closed);
    for (const Polygon& hole : area.holes) add_polygon(context.get(), hole, true);
  }
  require_ok(context.get());
  double left = 0, top = 0, right = 0, bottom = 0;
  cairo_path_extents(context.get(), &left, &top, &right, &bottom);
  // A stroke's mitres reach at most ten half widths beyond its path (Cairo's default limit).
  const double reach = lettering ? 0 : 5 * area.line_mm;
  extent_mm_ = {left - reach, top - reach, right - left + 2 * reach, bottom - top + 2 * reach};
  auto path = std::make_shared<Path>();
  path->path = cairo_copy_path(context.get());
  path->line_mm = lettering ? 0 : area.line_mm;
  path->even_odd = !lettering;
  path_ = std::move(path);
}

Shape::Shape(const Polygon& outline_mm)
    : Shape([&] {
        Area area;
        area.outline_mm = outline_mm;
        return area;
      }()) {}

cv::Rect Shape::bounds(const Window& window) const {
  const auto cell = [&](double mm, double origin) { return (mm - origin) / window.pitch_mm; };
  const double x0 = std::floor(cell(extent_mm_.x, window.origin_mm.x)) - 1;
  const double y0 = std::floor(cell(extent_mm_.y, window.origin_mm.y)) - 1;
  const double x1 = std::ceil(cell(extent_mm_.x + extent_mm_.width, window.origin_mm.x)) + 1;
  const double y1 = std::ceil(cell(extent_mm_.y + extent_mm_.height, window.origin_mm.y)) + 1;
  const auto inside = [](double v, int limit) {
    return static_cast<int>(std::clamp(v, 0.0, static_cast<double>(limit)));
  };
  const int left = inside(x0, window.size.width), top = inside(y0, window.size.height);
  const int right = inside(x1, window.size.width), bottom = inside(y1, window.size.height);
  if (right <= left || bottom <= top) return {};
  return {left, top, right - left, bottom - top};
}

cv::Mat Shape::coverage(const Window& window, const cv::Rect& part) const {
  // Cairo's rows are padded to four bytes; the mask is a view of them with its own memory.
  const int stride = cairo_format_stride_for_width(CAIRO_FORMAT_A8, part.width);
  cv::Mat padded(part.height, stride, CV_8UC1, cv::Scalar(0));
  const Surface surface(cairo_image_surface_create_for_data(padded.data, CAIRO_FORMAT_A8,
                                                            part.width, part.height, stride));
  const Context context(cairo_create(surface.get()));
  cairo_set_antialias(context.get(), CAIRO_ANTIALIAS_BEST);
  cairo_translate(context.get(), -part.x, -part.y);
  cairo_scale(context.get(), 1 / window.pitch_mm, 1 / window.pitch_mm);
  cairo_translate(context.get(), -window.origin_mm.x, -window.origin_mm.y);
  cairo_append_path(context.get(), path_->path);
  if (path_->line_mm > 0) {
    cairo_set_line_width(context.get(), path_->line_mm);
    cairo_stroke(context.get());
  } else {
    cairo_set_fill_rule(context.get(),
                        path_->even_odd ? CAIRO_FILL_RULE_EVEN_ODD : CAIRO_FILL_RULE_WINDING);
    cairo_fill(context.get());
  }
  require_ok(context.get());
  cairo_surface_flush(surface.get());
  return padded.colRange(0, part.width);
}

}  // namespace inkwane::simulate
