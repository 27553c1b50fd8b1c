#include "scanner/card_sheet.hpp"

#include <memory>
#include <new>
#include <numbers>

#include <cairo-pdf.h>
#include <pango/pangocairo.h>

#include "scanner/card_layout.hpp"

namespace inkwane::scanner {
namespace {

constexpr double kPointsPerMm = 72 / 25.4;
constexpr double kTopMm = 14;  // more than what printers leave unprinted
constexpr const char* kFont = "DejaVu Sans";

constexpr const char* kTitle = "Scanner card";
constexpr const char* kSubtitle = "what the scanner adds to light, by chips that are alike";

constexpr const char* kLeft =
    "<b>Print</b> at 100 %, not fitted to the page, on heavy, matt, white paper, one side only, in "
    "the best quality, in black ink or shades of grey. Any printer will do: nothing depends on how "
    "light or dark the chips come out, only on chips of a kind being alike.\n"
    "<b>Dry</b> it, flat and open to the air: an hour from a laser printer, a day from an ink-jet "
    "printer. Discard a sheet with streaks, scratches or finger marks.\n"
    "<b>Keep</b> it in the dark, unfolded, and print a new one when it has been handled much.";
constexpr const char* kRight =
    "<b>Lay</b> it face down on clean glass, flat and about straight, with the backing and the lid "
    "as they are for the sheets you measure.\n"
    "<b>Scan</b> the whole page with just the settings you measure with: resolution, 16 bit, "
    "colour "
    "profile, and every automatic correction off. All four ring marks must be in the scan.\n"
    "<b>Measure</b> with\n<tt>inkwane scanner card.tif -o scanner.toml</tt>\nScan the card "
    "anew when the scanner, its settings or its lamp change.";

struct Release {
  void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
  void operator()(cairo_t* pen) const { cairo_destroy(pen); }
  void operator()(PangoLayout* layout) const { g_object_unref(layout); }
  void operator()(PangoFontDescription* font) const { pango_font_description_free(font); }
};

/// Draws in millimetres of the card's print.
class Page {
 public:
  explicit Page(cairo_t* pen) : pen_(pen) {}

  void box(const cv::Rect2d& mm, double grey) {
    ink(grey);
    cairo_rectangle(pen_, mm.x, mm.y, mm.width, mm.height);
    cairo_fill(pen_);
  }
  void disc(cv::Point2d centre, double radius, double grey) {
    ink(grey);
    cairo_arc(pen_, centre.x, centre.y, radius, 0, 2 * std::numbers::pi);
    cairo_fill(pen_);
  }
  void turned_box(cv::Point2d centre, double side, double degrees, double grey) {
    cairo_save(pen_);
    cairo_translate(pen_, centre.x, centre.y);
    cairo_rotate(pen_, degrees * std::numbers::pi / 180);
    box({-side / 2, -side / 2, side, side}, grey);
    cairo_restore(pen_);
  }
  /// Text of a size in mm (em), at most as wide as `mm` and from its top.
  void text(const cv::Rect2d& mm, const char* markup, double size_mm, PangoAlignment alignment) {
    // Pango sets text for the device's pixels; laid out in points, it is the same on every page.
    const std::unique_ptr<PangoLayout, Release> layout(pango_cairo_create_layout(pen_));
    const std::unique_ptr<PangoFontDescription, Release> font(pango_font_description_new());
    pango_font_description_set_family_static(font.get(), kFont);
    pango_font_description_set_absolute_size(font.get(), size_mm * kPointsPerMm * PANGO_SCALE);
    pango_layout_set_font_description(layout.get(), font.get());
    pango_layout_set_width(layout.get(), static_cast<int>(mm.width * kPointsPerMm * PANGO_SCALE));
    pango_layout_set_alignment(layout.get(), alignment);
    pango_layout_set_line_spacing(layout.get(), 1.15F);
    pango_layout_set_spacing(layout.get(), static_cast<int>(1.6 * kPointsPerMm * PANGO_SCALE));
    pango_layout_set_markup(layout.get(), markup, -1);
    cairo_save(pen_);
    ink(card::kBlack);
    cairo_translate(pen_, mm.x, mm.y);
    cairo_scale(pen_, 1 / kPointsPerMm, 1 / kPointsPerMm);
    pango_cairo_update_layout(pen_, layout.get());
    cairo_move_to(pen_, 0, 0);
    pango_cairo_show_layout(pen_, layout.get());
    cairo_restore(pen_);
  }

 private:
  void ink(double grey) { cairo_set_source_rgb(pen_, grey, grey, grey); }
  cairo_t* pen_;
};

void draw_card(Page& page) {
  for (const card::Field& field : card::fields()) {
    if (field.black) page.box(field.mm, card::kBlack);
  }
  for (const card::Chip& chip : card::chips()) {
    // A white chip on white is the field itself.
    const bool on_black = card::fields()[static_cast<std::size_t>(chip.field)].black;
    if (chip.kind == card::Kind::white && !on_black) continue;
    page.box({chip.centre_mm.x - card::kChipMm / 2, chip.centre_mm.y - card::kChipMm / 2,
              card::kChipMm, card::kChipMm},
             card::fill_of(chip.kind));
  }
  for (std::size_t i = 0; i < card::marks().size(); ++i) {
    const card::Mark& mark = i == 0 ? card::kFirstMark : card::kOtherMark;
    page.disc(card::marks()[i], mark.outer_mm, card::kBlack);
    page.disc(card::marks()[i], mark.inner_mm, card::kBare);
    page.disc(card::marks()[i], mark.dot_mm, card::kBlack);
  }
  for (const card::Square& square : card::squares()) {
    page.turned_box(square.centre_mm, card::kSquareMm, square.turn_degrees, card::kBlack);
  }
}

void draw_words(Page& page) {
  const double between = card::marks()[1].x - card::marks()[0].x - 14;
  const cv::Rect2d head(card::marks()[0].x + 7, 0, between, card::kFieldsTopMm);
  page.text({head.x, 1.6, head.width, 6}, kTitle, 5, PANGO_ALIGN_CENTER);
  page.text({head.x, 8.2, head.width, 4}, kSubtitle, 2.6, PANGO_ALIGN_CENTER);
  constexpr double kGapMm = 8, kSizeMm = 2.75;
  const double half = (card::kTextMm.width - kGapMm) / 2;
  page.text({card::kTextMm.x, card::kTextMm.y, half, card::kTextMm.height}, kLeft, kSizeMm,
            PANGO_ALIGN_LEFT);
  page.text({card::kTextMm.x + half + kGapMm, card::kTextMm.y, half, card::kTextMm.height}, kRight,
            kSizeMm, PANGO_ALIGN_LEFT);
}

cairo_status_t append(void* to, const unsigned char* bytes, unsigned length) {
  static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(bytes), length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

std::string card_pdf(PaperSize paper) {
  // ISO 216 A4; ANSI/ASME Y14.1 A ("letter").
  const cv::Size2d size = paper == PaperSize::a4 ? cv::Size2d(210, 297) : cv::Size2d(215.9, 279.4);
  std::string pdf;
  const std::unique_ptr<cairo_surface_t, Release> surface(cairo_pdf_surface_create_for_stream(
      &append, &pdf, size.width * kPointsPerMm, size.height * kPointsPerMm));
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, kTitle);
  const std::unique_ptr<cairo_t, Release> pen(cairo_create(surface.get()));
  cairo_scale(pen.get(), kPointsPerMm, kPointsPerMm);
  cairo_translate(pen.get(), (size.width - card::kWidthMm) / 2, kTopMm);
  Page page(pen.get());
  draw_card(page);
  draw_words(page);
  cairo_show_page(pen.get());
  cairo_surface_finish(surface.get());
  if (cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS) throw std::bad_alloc();
  return pdf;
}

}  // namespace inkwane::scanner
