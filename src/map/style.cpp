#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "map/picture.hpp"
#include "map/scale.hpp"

namespace inkwane::map {
namespace {

// The ends are our own choice, the same in every report so that two reports compare:
// - colour differences end at 10: print that has moved by more is a different colour to anyone,
//   while what is argued about lies between 1 and 5;
// - lost ink ends at a half: beyond it the loss is beyond dispute, and the steps of the scale are
//   spent on the 10 to 50 % where one decides whether to go on;
// - what remains of added colour runs over the whole 0 to 100 %, since all of it occurs.
// What is painted is what the tables count (lost ink from 0.10, gained colour and bleed-through
// from ΔE00 2, docs/formats.md). The difference map starts at ΔE00 1.7, what is
// just noticeable on heritage objects (Heritage Science 2022, s40494-022-00767-6): below it the
// lighter paper of every washed sheet would be painted all over. What is smaller stands in the
// TIFF.
std::map<std::string, Style> make_styles() {
  std::map<std::string, Style> styles;
  styles["difference"] = {.title = "Change of colour",
                          .legend = "Colour difference ΔE00 (CIEDE2000)",
                          .low = 0,
                          .high = 10,
                          .see_through = 1.7,
                          .missing = "not measured"};
  styles["lost-ink"] = {.title = "Lost ink",
                        .legend = "Share of the ink’s strength that was lost",
                        .low = 0,
                        .high = 0.5,
                        .see_through = 0.10,
                        .percent = true,
                        .hatch_missing = false,
                        .missing = "no printing ink, or not measured"};
  styles["gained-colour"] = {.title = "Gained colour",
                             .legend = "Colour difference ΔE00 of what was gained",
                             .low = 0,
                             .high = 10,
                             .see_through = 2,
                             .missing = "not measured"};
  styles["residual-added"] = {
      .title = "Added colour that remains",
      .legend = "Share of the added colour that is still there",
      .low = 0,
      .high = 1,
      .see_through = -std::numeric_limits<double>::infinity(),
      .percent = true,
      .hatch_missing = false,
      .missing = "outside the places named as added colour, or not measured"};
  styles["bleed-through"] = {.title = "Colour that came through from the other side",
                             .legend = "Colour difference ΔE00 of what came through",
                             .low = 0,
                             .high = 10,
                             .see_through = 2,
                             .missing = "not measured"};
  return styles;
}

}  // namespace

std::optional<int> painted_step(double value, const Style& style) {
  const double size = style.diverging ? std::abs(value) : value;
  if (!(size > style.see_through)) return std::nullopt;  // never for NaN
  // The colours begin where paint does: all of the scale is spent on what is painted.
  const double first = style.diverging ? style.low : std::max(style.low, style.see_through);
  return scale_step(value, first, style.high);
}

const Style& style_of(const std::string& kind) {
  static const std::map<std::string, Style> styles = make_styles();
  return styles.at(kind);
}

}  // namespace inkwane::map
