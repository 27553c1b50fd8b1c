#include <cmath>
#include <cstdint>
#include <cstring>
#include <memory>
#include <vector>

#include <cairo.h>

#include "map/picture.hpp"
#include "map/scale.hpp"
#include "map/shrink.hpp"
#include "report/draw/draw.hpp"
#include "report/draw/type.hpp"
#include "report/figures.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

constexpr double kWidthMm = 110, kBarMm = 4.2;
constexpr Face kWords{Face::Family::sans, 8, false, false, kBlack, 1.2};
constexpr Face kSmall{Face::Family::sans, 7, false, false, kSoft, 1.3};
constexpr double kFadedMiddle = (map::kFaded + 255) / 2.0 / 255;

std::string value_words(double value, const map::Style& style) {
  if (!style.percent) return fmt::format("{:g}", value);
  return say("maps.percent", fmt::arg("value", decimal(100 * value, 0)));
}

/// What has no colour, and what hatching means.
std::string note(const std::string& kind, const map::Style& style) {
  const std::string& missing = say("maps." + kind + "_missing");
  std::string clear;
  if (std::isfinite(style.see_through))
    clear = say("maps.up_to", fmt::arg("value", value_words(style.see_through, style)));
  if (!style.hatch_missing) clear += (clear.empty() ? "" : "; ") + missing;
  std::string text = clear.empty() ? "" : say("maps.clear", fmt::arg("what", clear));
  if (style.hatch_missing)
    text += (text.empty() ? "" : " ") + say("maps.hatched", fmt::arg("what", missing));
  return text;
}

/// The scale's colours from low to high. A picture one pixel high: as many boxes would make the
/// page a hundred times larger.
void draw_bar(cairo_t* pen, const map::Style& style, double x, double y, double width,
              double height) {
  constexpr int kSlices = 256;
  const auto& scale = style.diverging ? map::diverging_scale() : map::sequential_scale();
  const std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> bar(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, kSlices, 1), &cairo_surface_destroy);
  cairo_surface_flush(bar.get());
  std::vector<std::uint32_t> pixels;
  for (int i = 0; i < kSlices; ++i) {
    const double value = style.low + (style.high - style.low) * (i + 0.5) / kSlices;
    constexpr auto kGrey = static_cast<std::uint32_t>(255 * kFadedMiddle + 0.5);
    std::uint32_t rgb = kGrey << 16U | kGrey << 8U | kGrey;
    if (const auto step = map::painted_step(value, style)) {
      const map::Rgb& colour = scale[static_cast<std::size_t>(*step)];
      rgb = std::uint32_t{colour[0]} << 16U | std::uint32_t{colour[1]} << 8U | colour[2];
    }
    pixels.push_back(rgb);
  }
  std::memcpy(cairo_image_surface_get_data(bar.get()), pixels.data(), pixels.size() * 4);
  cairo_surface_mark_dirty(bar.get());
  cairo_save(pen);
  cairo_translate(pen, x, y);
  cairo_scale(pen, width / kSlices, height);
  cairo_set_source_surface(pen, bar.get(), 0, 0);
  cairo_pattern_set_filter(cairo_get_source(pen), CAIRO_FILTER_NEAREST);
  cairo_rectangle(pen, 0, 0, kSlices, 1);
  cairo_fill(pen);
  cairo_restore(pen);
}

void draw(cairo_t* pen, const std::string& kind) {
  constexpr double kLeft = pt(2), kRight = pt(kWidthMm - 6), kBar = pt(kBarMm);
  const map::Style& style = map::style_of(kind);
  const Setting title(pen, plain(say("maps." + kind + "_legend")), kWords);
  title.draw(0, 0);
  const double top = title.height() + 3;
  draw_bar(pen, style, kLeft, top, kRight - kLeft, kBar);
  constexpr int kTicks = 5;
  for (int i = 0; i <= kTicks; ++i) {
    const double x = kLeft + (kRight - kLeft) * i / kTicks;
    draw_line(pen, x, top + kBar, x, top + kBar + 2.5, 0.6, kBlack);
    const double value = style.low + (style.high - style.low) * i / kTicks;
    const std::string more = i == kTicks && !style.percent ? " +" : "";
    Setting(pen, plain(value_words(value, style) + more), kSmall, 0, Align::centre)
        .draw(x, top + kBar + 3);
  }
  Setting(pen, plain(note(kind, style)), kSmall, pt(kWidthMm)).draw(0, top + kBar + 14);
}

}  // namespace

Plot map_legend(const std::string& kind) {
  Plot plot;
  plot.width_mm = kWidthMm;
  plot.height_mm = 19;
  plot.draw = [kind](cairo_t* pen) { draw(pen, kind); };
  plot.alt = say("maps." + kind + "_legend");
  return plot;
}

}  // namespace inkwane::report
