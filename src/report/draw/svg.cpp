#include <map>
#include <memory>
#include <new>
#include <regex>
#include <string>

#include <cairo-svg.h>
#include <cairo.h>

#include "report/draw/draw.hpp"
#include "report/draw/type.hpp"

namespace inkwane::report {
namespace {

/// Cairo numbers the surfaces and pictures of a process; the same plot is to have the same bytes,
/// so here they are numbered as they come.
std::string renumbered(const std::string& svg) {
  static const std::regex kSurface(R"( id="surface[0-9]+")");
  static const std::regex kPicture(R"((id="|#)image([0-9]+))");
  const std::string plain = std::regex_replace(svg, kSurface, "");
  std::map<std::string, std::size_t> numbers;
  std::string out;
  auto rest = plain.cbegin();
  for (std::sregex_iterator at(plain.begin(), plain.end(), kPicture), end; at != end; ++at) {
    const auto number = numbers.try_emplace(at->str(2), numbers.size() + 1).first->second;
    out.append(rest, at->prefix().second);
    out += at->str(1) + "image" + std::to_string(number);
    rest = at->suffix().first;
  }
  return out.append(rest, plain.cend());
}

}  // namespace

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
  return renumbered(bytes);
}

}  // namespace inkwane::report
