#include "report/pdf/paper.hpp"

#include <new>

#include <cairo-pdf.h>
#include <cairo.h>

#include "report/words.hpp"

namespace inkwane::report {
namespace {

constexpr Face kFoot{Face::Family::sans, 7.2, false, false, kSoft, 1.2};

cairo_status_t append(void* to, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

Paper::Paper(const Document& document, int pages)
    : document_(document),
      pages_(pages),
      surface_(cairo_pdf_surface_create_for_stream(&append, &bytes_, kWidth, kHeight),
               &cairo_surface_destroy),
      pen_(cairo_create(surface_.get()), &cairo_destroy) {}

void Paper::foot() {
  const double y = kBottom + pt(6);
  draw_line(pen(), kLeft, y, kRight, y, 0.5, kLine);
  std::string name = document_.title;
  if (!document_.identifier.empty()) name = document_.identifier + "  ·  " + name;
  const Setting words(pen(), plain(name), kFoot, kInner - pt(34));
  words.draw_lines(0, 1, kLeft, y + 5);
  if (pages_ > 0)
    Setting(pen(), plain(say("common.page", fmt::arg("page", page_), fmt::arg("pages", pages_))),
            kFoot, 0, Align::right)
        .draw(kRight, y + 5);
}

void Paper::turn() {
  foot();
  cairo_show_page(pen());
  ++page_;
}

int Paper::bookmark(const std::string& words, int parent, double y) {
  const std::string where = fmt::format("page={} pos=[{:.2f} {:.2f}]", page_, kLeft, y);
  return cairo_pdf_surface_add_outline(surface_.get(), parent, words.c_str(), where.c_str(),
                                       CAIRO_PDF_OUTLINE_FLAG_OPEN);
}

std::string Paper::finish() {
  foot();
  cairo_show_page(pen());
  const bool drawn = cairo_status(pen()) == CAIRO_STATUS_SUCCESS;
  cairo_surface_finish(surface_.get());
  if (!drawn || cairo_surface_status(surface_.get()) != CAIRO_STATUS_SUCCESS)
    throw std::bad_alloc();
  return std::move(bytes_);
}

}  // namespace inkwane::report
