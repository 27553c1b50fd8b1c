// A4 pages, one after the other, with what stands on each of them.
#pragma once

#include <memory>
#include <string>

#include "report/draw/type.hpp"

using cairo_surface_t = struct _cairo_surface;

namespace inkwane::report {

class Paper {
 public:
  static constexpr double kWidth = pt(210), kHeight = pt(297);
  static constexpr double kLeft = pt(20), kRight = kWidth - pt(18), kTop = pt(18),
                          kBottom = kHeight - pt(20);
  static constexpr double kInner = kRight - kLeft;

  /// `pages`: how many there will be; 0 where that is not known yet.
  Paper(const Document& document, int pages);

  [[nodiscard]] cairo_t* pen() const { return pen_.get(); }
  [[nodiscard]] int page() const { return page_; }
  /// Ends the page and starts the next.
  void turn();
  /// An entry of the list of contents that readers show beside the pages; returns its number.
  int bookmark(const std::string& words, int parent, double y);
  /// Ends the last page; the file's bytes. Throws std::bad_alloc where Cairo gave up.
  [[nodiscard]] std::string finish();

 private:
  void foot();

  const Document& document_;
  int pages_, page_ = 1;
  std::string bytes_;
  std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)> surface_;
  std::unique_ptr<cairo_t, void (*)(cairo_t*)> pen_;
};

}  // namespace inkwane::report
