#include "report/draw/type.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include <pango/pangocairo.h>

namespace inkwane::report {
namespace {

// Debian packages fonts-linuxlibertine, fonts-lato, fonts-dejavu-core; all may be embedded (SIL
// OFL, Bitstream Vera licence). Where one is missing Pango takes the next.
const char* family_name(Face::Family family) {
  switch (family) {
    case Face::Family::serif:
      return "Linux Libertine O, DejaVu Serif, serif";
    case Face::Family::mono:
      return "DejaVu Sans Mono, monospace";
    case Face::Family::sans:
      break;
  }
  return "Lato, DejaVu Sans, sans-serif";
}

guint16 level(double value) {
  return static_cast<guint16>(std::lround(65535 * value));
}

void add(PangoAttrList* list, PangoAttribute* attribute, std::size_t from, std::size_t to) {
  attribute->start_index = static_cast<guint>(from);
  attribute->end_index = static_cast<guint>(to);
  pango_attr_list_insert(list, attribute);
}

void add_look(PangoAttrList* list, const Run& run, const Face& face, std::size_t from,
              std::size_t to) {
  const auto ink = [&](const Ink& colour) {
    add(list, pango_attr_foreground_new(level(colour.r), level(colour.g), level(colour.b)), from,
        to);
  };
  const auto size = [&](double factor) {
    add(list, pango_attr_size_new_absolute(static_cast<int>(factor * face.size * PANGO_SCALE)),
        from, to);
  };
  switch (run.look) {
    case Run::Look::plain:
      break;
    case Run::Look::strong:
      add(list, pango_attr_weight_new(PANGO_WEIGHT_BOLD), from, to);
      break;
    case Run::Look::soft:
      ink(kSoft);
      break;
    case Run::Look::code:
      add(list, pango_attr_family_new(family_name(Face::Family::mono)), from, to);
      size(0.84);
      break;
    case Run::Look::mark:
      add(list, pango_attr_style_new(PANGO_STYLE_ITALIC), from, to);
      ink(kAlert);
      size(0.8);
      break;
  }
}

PangoFontDescription* description_of(const Face& face) {
  PangoFontDescription* font = pango_font_description_new();
  pango_font_description_set_family(font, family_name(face.family));
  pango_font_description_set_absolute_size(font, face.size * PANGO_SCALE);
  pango_font_description_set_weight(font, face.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_font_description_set_style(font, face.italic ? PANGO_STYLE_ITALIC : PANGO_STYLE_NORMAL);
  return font;
}

double units(int pango) {
  return static_cast<double>(pango) / PANGO_SCALE;
}

}  // namespace

Ink ink_of(const std::string& css) {
  const auto channel = [&](std::size_t at) {
    return static_cast<double>(std::strtol(css.substr(at, 2).c_str(), nullptr, 16)) / 255;
  };
  return {channel(1), channel(3), channel(5)};
}

void Setting::Unref::operator()(PangoLayout* layout) const {
  g_object_unref(layout);
}

Setting::Setting(cairo_t* pen, const Text& text, const Face& face, double width, Align align)
    : pen_(pen), face_(face), given_width_(width), align_(align) {
  layout_.reset(pango_cairo_create_layout(pen));
  PangoContext* context = pango_layout_get_context(layout_.get());
  // On paper there are no pixels to round to.
  pango_context_set_round_glyph_positions(context, FALSE);
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  pango_cairo_context_set_font_options(context, options);
  cairo_font_options_destroy(options);
  pango_cairo_update_context(pen, context);
  pango_layout_context_changed(layout_.get());

  PangoFontDescription* font = description_of(face);
  pango_layout_set_font_description(layout_.get(), font);
  pango_font_description_free(font);
  PangoAttrList* list = pango_attr_list_new();
  std::string words;
  for (const Run& run : text) {
    const std::size_t from = words.size();
    words += run.look == Run::Look::mark ? "\u00a0" + run.text : run.text;
    add_look(list, run, face, from, words.size());
  }
  // Figures of one width, so that columns of them line up.
  add(list, pango_attr_font_features_new("tnum=1, lnum=1"), 0, words.size());
  pango_layout_set_text(layout_.get(), words.c_str(), static_cast<int>(words.size()));
  pango_layout_set_attributes(layout_.get(), list);
  pango_attr_list_unref(list);
  pango_layout_set_wrap(layout_.get(), PANGO_WRAP_WORD_CHAR);
  pango_layout_set_line_spacing(layout_.get(), static_cast<float>(face.leading / 1.2));
  if (width > 0) {
    pango_layout_set_width(layout_.get(), static_cast<int>(width * PANGO_SCALE));
    pango_layout_set_alignment(layout_.get(), align == Align::right    ? PANGO_ALIGN_RIGHT
                                              : align == Align::centre ? PANGO_ALIGN_CENTER
                                                                       : PANGO_ALIGN_LEFT);
  }
}

double Setting::width() const {
  PangoRectangle logical;
  pango_layout_get_extents(layout_.get(), nullptr, &logical);
  return units(logical.width);
}

double Setting::height() const {
  PangoRectangle logical;
  pango_layout_get_extents(layout_.get(), nullptr, &logical);
  return units(logical.height);
}

int Setting::lines() const {
  return pango_layout_get_line_count(layout_.get());
}

double Setting::line_height(int line) const {
  PangoRectangle logical;
  pango_layout_line_get_extents(pango_layout_get_line_readonly(layout_.get(), line), nullptr,
                                &logical);
  return units(logical.height);
}

double Setting::baseline() const {
  return units(pango_layout_get_baseline(layout_.get()));
}

void Setting::draw(double x, double y) const {
  if (given_width_ <= 0 && align_ != Align::left)
    x -= align_ == Align::right ? width() : width() / 2;
  set_ink(pen_, face_.ink);
  cairo_move_to(pen_, x, y);
  pango_cairo_show_layout(pen_, layout_.get());
}

void Setting::draw_lines(int first, int last, double x, double y) const {
  set_ink(pen_, face_.ink);
  PangoLayoutIter* iterator = pango_layout_get_iter(layout_.get());
  double top = 0;
  for (int line = 0; line < last; ++line) {
    PangoRectangle logical;
    pango_layout_iter_get_line_extents(iterator, nullptr, &logical);
    if (line == first) top = units(logical.y);
    if (line >= first) {
      cairo_move_to(pen_, x + units(logical.x),
                    y - top + units(pango_layout_iter_get_baseline(iterator)));
      pango_cairo_show_layout_line(pen_, pango_layout_iter_get_line_readonly(iterator));
    }
    if (pango_layout_iter_next_line(iterator) == 0) break;
  }
  pango_layout_iter_free(iterator);
}

void set_ink(cairo_t* pen, const Ink& ink) {
  cairo_set_source_rgb(pen, ink.r, ink.g, ink.b);
}

void draw_line(cairo_t* pen, double x0, double y0, double x1, double y1, double width,
               const Ink& ink, bool dashed) {
  constexpr double kDash[] = {2.2, 1.8};
  cairo_save(pen);
  set_ink(pen, ink);
  cairo_set_line_width(pen, width);
  if (dashed) cairo_set_dash(pen, kDash, 2, 0);
  cairo_move_to(pen, x0, y0);
  cairo_line_to(pen, x1, y1);
  cairo_stroke(pen);
  cairo_restore(pen);
}

void fill_box(cairo_t* pen, double x, double y, double width, double height, const Ink& ink) {
  set_ink(pen, ink);
  cairo_rectangle(pen, x, y, width, height);
  cairo_fill(pen);
}

}  // namespace inkwane::report
