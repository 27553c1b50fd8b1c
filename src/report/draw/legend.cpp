#include <cmath>

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

void draw(cairo_t* pen, const std::string& kind) {
  constexpr double kLeft = pt(2), kRight = pt(kWidthMm - 6), kBar = pt(kBarMm);
  const map::Style& style = map::style_of(kind);
  const Setting title(pen, plain(say("maps." + kind + "_legend")), kWords);
  title.draw(0, 0);
  const double top = title.height() + 3;
  const auto& scale = style.diverging ? map::diverging_scale() : map::sequential_scale();
  constexpr int kSlices = 220;
  for (int i = 0; i < kSlices; ++i) {
    const double value = style.low + (style.high - style.low) * (i + 0.5) / kSlices;
    Ink ink{kFadedMiddle, kFadedMiddle, kFadedMiddle};
    if (const auto step = map::painted_step(value, style)) {
      const map::Rgb& colour = scale[static_cast<std::size_t>(*step)];
      ink = {colour[0] / 255.0, colour[1] / 255.0, colour[2] / 255.0};
    }
    const double x = kLeft + (kRight - kLeft) * i / kSlices;
    fill_box(pen, x, top, (kRight - kLeft) / kSlices + (i + 1 < kSlices ? 0.4 : 0), kBar, ink);
  }
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
