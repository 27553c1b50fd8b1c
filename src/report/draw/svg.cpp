#include <memory>
#include <new>
#include <regex>

#include <cairo-svg.h>
#include <cairo.h>

#include "report/draw/draw.hpp"
#include "report/draw/type.hpp"

namespace inkwane::report {

std::string to_svg(const Plot& plot) {
  std::string bytes;
  const auto append = [](void* to, const unsigned char* data, unsigned length) {
    static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
  };
  const std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface(
      cairo_svg_surface_create_for_stream(append, &bytes, pt(plot.width_mm), pt(plot.height_mm)),
      &cairo_surface_destroy);
  const std::unique_ptr<cairo_t, decltype(&cairo_destroy)> pen(cairo_create(surface.get()),
                                                               &cairo_destroy);
  plot.draw(pen.get());
  const bool drawn = cairo_status(pen.get()) == CAIRO_STATUS_SUCCESS;
  cairo_surface_finish(surface.get());
  if (!drawn || cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS) throw std::bad_alloc();
  // Cairo numbers the surfaces of a process; the same plot is to have the same bytes.
  static const std::regex kNumber(R"( id="surface[0-9]+")");
  return std::regex_replace(bytes, kNumber, "");
}

}  // namespace inkwane::report
