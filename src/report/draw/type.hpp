// Type and ink: how text is set, with Pango, in plots and on the pages of the PDF. All lengths are
// points (1/72 inch) unless a name says mm.
#pragma once

#include <memory>

#include "report/document.hpp"

using PangoLayout = struct _PangoLayout;

namespace inkwane::report {

[[nodiscard]] constexpr double pt(double mm) {
  return mm * 72 / 25.4;
}

/// An encoded sRGB colour, 0–1 a channel.
struct Ink {
  double r = 0, g = 0, b = 0;
};
/// "#rrggbb".
[[nodiscard]] Ink ink_of(const std::string& css);

// The colours of the report; report.css holds the same.
inline constexpr Ink kBlack{0.133, 0.145, 0.165}, kSoft{0.365, 0.388, 0.420},
    kLine{0.851, 0.839, 0.812}, kFaint{0.965, 0.957, 0.937}, kAccent{0.486, 0.176, 0.227},
    kAlert{0.651, 0.353, 0.0};

struct Face {
  enum class Family { serif, sans, mono };
  Family family = Family::sans;
  double size = 8;
  bool bold = false, italic = false;
  Ink ink = kBlack;
  double leading = 1.3;  ///< distance of lines, in sizes
};

enum class Align { left, centre, right };

/// Text set to a width (0: one line, as wide as it is).
class Setting {
 public:
  Setting(cairo_t* pen, const Text& text, const Face& face, double width = 0,
          Align align = Align::left);

  [[nodiscard]] double width() const;
  [[nodiscard]] double height() const;
  [[nodiscard]] int lines() const;
  [[nodiscard]] double line_height(int line) const;
  /// Distance from the top to the first line's baseline.
  [[nodiscard]] double baseline() const;
  /// With the top left corner there; of one-line settings the left, middle or right end.
  void draw(double x, double y) const;
  /// Lines `first` to `last` − 1 alone, their top there.
  void draw_lines(int first, int last, double x, double y) const;

 private:
  struct Unref {
    void operator()(PangoLayout* layout) const;
  };
  cairo_t* pen_;
  Face face_;
  double given_width_;
  Align align_;
  std::unique_ptr<PangoLayout, Unref> layout_;
};

void set_ink(cairo_t* pen, const Ink& ink);
void draw_line(cairo_t* pen, double x0, double y0, double x1, double y1, double width,
               const Ink& ink, bool dashed = false);
void fill_box(cairo_t* pen, double x, double y, double width, double height, const Ink& ink);

}  // namespace inkwane::report
