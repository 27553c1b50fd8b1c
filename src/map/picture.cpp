#include "map/picture.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "map/marks.hpp"
#include "map/scale.hpp"
#include "map/sheet.hpp"
#include "map/shrink.hpp"

namespace inkwane::map {
namespace {

// Measures of the sheet, in pixels.
constexpr int kMargin = 48;
constexpr int kLeastWidth = 1000;  // room for the legend under a narrow map
constexpr double kTitle = 32, kText = 22, kSmall = 19;
constexpr int kTitleLine = 46, kTextLine = 34, kSmallLine = 28, kGap = 22;
constexpr int kPlateLine = 46;
constexpr int kNotes = 2;  // lines kept free under the legend: maps of one side are equally large
constexpr int kBarHeight = 26, kTick = 7;

/// What the legend has to tell of the values beyond what the picture shows.
struct Tally {
  int known = 0, painted = 0, beyond = 0;
  double highest = 0, lowest = 0;
};

bool is_painted(double value, const Style& style) {
  return painted_step(value, style).has_value();
}

Tally count(const cv::Mat& values, const Style& style) {
  Tally tally;
  for (int row = 0; row < values.rows; ++row) {
    const auto* value = values.ptr<float>(row);
    for (int column = 0; column < values.cols; ++column) {
      const double v = double{value[column]};
      if (std::isnan(v)) continue;
      if (tally.known++ == 0) tally.highest = tally.lowest = v;
      tally.highest = std::max(tally.highest, v);
      tally.lowest = std::min(tally.lowest, v);
      if (is_painted(v, style)) ++tally.painted;
      if (v > style.high || (style.diverging && v < style.low)) ++tally.beyond;
    }
  }
  return tally;
}

/// `decimals`: of a percentage.
std::string figure(double value, const Style& style, int decimals = 0) {
  const double size = std::abs(value);
  const std::string digits =
      style.percent ? fmt::format("{:.{}f} %", 100 * size, decimals) : fmt::format("{:.3g}", size);
  return (value < 0 ? "\u2212" : "") + digits;
}

/// The lines under the legend: what grey, hatching and the pointed end of the bar mean.
std::vector<std::string> notes(const Style& style, const Tally& tally) {
  std::vector<std::string> lines;
  std::vector<std::string> plain;  // what is left uncoloured
  if (std::isfinite(style.see_through))
    plain.push_back((style.diverging ? "within ± " : "up to ") + figure(style.see_through, style));
  if (!style.hatch_missing) plain.push_back(style.missing);
  std::string first = plain.empty() ? "" : fmt::format("No colour: {}. ", fmt::join(plain, "; "));
  if (style.hatch_missing) first += fmt::format("Hatched: {}.", style.missing);
  lines.push_back(first);
  if (tally.known == 0) {
    lines.push_back("Nothing was measured here.");
  } else if (tally.painted == 0) {
    lines.push_back(fmt::format("No place reaches the colours: the highest value is {}.",
                                figure(tally.highest, style, 1)));
  } else if (tally.beyond > 0) {
    const double extreme = std::abs(tally.lowest) > std::abs(tally.highest) && style.diverging
                               ? tally.lowest
                               : tally.highest;
    const double share = 100.0 * tally.beyond / tally.known;
    lines.push_back(
        fmt::format("Beyond the scale: {} of what was measured, to {}; drawn as the end.",
                    share < 0.1 ? "less than 0.1 %" : fmt::format("{:.1f} %", share),
                    figure(extreme, style, 1)));
  }
  return lines;
}

/// Edges of the print, a pixel wide, so that a painted area still shows where on the sheet it lies
/// while all but the edges keeps the legend's colours.
cv::Mat print_outlines(const cv::Mat& ground) {
  // Sobel gradients of the faded scan; a step of a fifth of its range is an edge.
  constexpr double kEdge = 4.0 * (255 - kFaded) / 5, kGoesOn = kEdge / 2;
  cv::Mat clean, edges;
  cv::medianBlur(ground, clean, 5);
  cv::Canny(clean, edges, kGoesOn, kEdge);
  return edges;
}

void paint_map(cv::Mat paint, const cv::Mat& values, const cv::Mat& ground, const Style& style) {
  constexpr int kHatchEvery = 12, kHatchWidth = 2, kHatchGrey = 190;
  const cv::Mat outlines = print_outlines(ground);
  for (int row = 0; row < paint.rows; ++row) {
    const auto* value = values.ptr<float>(row);
    const auto* scan = ground.ptr(row);
    const auto* outline = outlines.ptr(row);
    auto* out = paint.ptr(row);
    for (int column = 0; column < paint.cols; ++column) {
      const double v = double{value[column]};
      if (const auto step = painted_step(v, style)) {
        out[column] = outline[column] != 0 ? Sheet::outline_step(*step) : Sheet::step(*step);
      } else if (std::isnan(v) && style.hatch_missing &&
                 (row + column) % kHatchEvery < kHatchWidth) {
        out[column] = Sheet::grey(kHatchGrey);
      } else {
        out[column] = Sheet::grey(scan[column]);
      }
    }
  }
}

void draw_legend(Sheet& sheet, const cv::Rect& bar, const Style& style, const Tally& tally) {
  const int divisions = style.diverging ? 4 : 5;  // with a tick at 0
  const auto x_of = [&](double value) {
    return bar.x + bar.width * (value - style.low) / (style.high - style.low);
  };
  for (int x = bar.x; x < bar.x + bar.width; ++x) {
    const double value = style.low + (style.high - style.low) * (x + 0.5 - bar.x) / bar.width;
    const auto step = painted_step(value, style);
    const auto colour = step ? Sheet::step(*step) : Sheet::grey((kFaded + 255) / 2);
    sheet.paint()(cv::Rect(x, bar.y, 1, bar.height)).setTo(colour);
  }
  sheet.frame(bar);
  const auto pointed_end = [&](int x, int tip, int step) {
    const std::vector<cv::Point> end{
        {x, bar.y}, {x + tip, bar.y + bar.height / 2}, {x, bar.y + bar.height - 1}};
    cv::fillConvexPoly(sheet.paint(), end, Sheet::step(step));
  };
  if (tally.known > 0 && tally.highest > style.high)
    pointed_end(bar.x + bar.width + 3, bar.height, kScaleSteps - 1);
  if (tally.known > 0 && style.diverging && tally.lowest < style.low)
    pointed_end(bar.x - 4, -bar.height, 0);
  const auto tick = [&](double value) {
    const double x = x_of(value);
    const double bottom = bar.y + bar.height;
    sheet.line({x, bottom}, {x, bottom + kTick}, 1.5);
    sheet.text({static_cast<int>(x), bar.y + bar.height + kTick + 2}, figure(value, style), kSmall,
               Sheet::Weight::normal, Sheet::Align::centre);
  };
  for (int i = 0; i <= divisions; ++i) tick(style.low + (style.high - style.low) * i / divisions);
}

}  // namespace

double write_plain(const std::filesystem::path& file, const cv::Mat& values, const cv::Mat& srgb,
                   const Style& style, int longest_px) {
  const auto [size, factor] = reduced(values.size(), longest_px);
  Sheet sheet(size, style.diverging ? diverging_scale() : sequential_scale());
  paint_map(sheet.paint(), resized_values(values, size), faded(srgb, size), style);
  sheet.write(file);
  return factor;
}

void write_png(const std::filesystem::path& file, const cv::Mat& values, const cv::Mat& srgb,
               const grid::Geometry& geometry, const Style& style, const Caption& caption,
               const std::vector<Mark>& marks) {
  CV_Assert(values.type() == CV_32FC1 && srgb.type() == CV_8UC3 && values.size() == srgb.size());
  const Tally tally = count(values, style);
  const std::vector<std::string> lines = notes(style, tally);

  const int header =
      kMargin + kTitleLine + kTextLine + (caption.calibrated ? 0 : kPlateLine) + kGap;
  const int footer =
      kGap + kTextLine + kBarHeight + kTick + kSmallLine + kGap / 2 + kNotes * kSmallLine + kMargin;
  const double px_per_cell = std::min((kLongestPx - 2 * kMargin) / double(values.cols),
                                      (kLongestPx - header - footer) / double(values.rows));
  const cv::Size map_size(std::max(1, static_cast<int>(values.cols * px_per_cell)),
                          std::max(1, static_cast<int>(values.rows * px_per_cell)));
  const int width = std::max(map_size.width + 2 * kMargin, kLeastWidth);
  const int inner = width - 2 * kMargin;
  Sheet sheet({width, header + map_size.height + footer},
              style.diverging ? diverging_scale() : sequential_scale());

  int y = kMargin - 8;
  sheet.text({kMargin, y}, style.title, kTitle, Sheet::Weight::bold, Sheet::Align::left, inner);
  y += kTitleLine;
  sheet.text({kMargin, y}, fmt::format("{} · {}", caption.what, caption.object), kText,
             Sheet::Weight::normal, Sheet::Align::left, inner);
  y += kTextLine;
  if (!caption.calibrated) sheet.plate({kMargin, y + 4}, "Uncalibrated: no colour target", kSmall);

  const cv::Rect map({(width - map_size.width) / 2, header}, map_size);
  paint_map(sheet.paint()(map), resized_values(values, map_size), faded(srgb, map_size), style);
  sheet.frame(map);
  draw_marks(sheet, map, geometry, marks);

  y = map.y + map.height + kGap;
  sheet.text({kMargin, y}, style.legend, kText, Sheet::Weight::normal, Sheet::Align::left,
             inner * 7 / 10);
  y += kTextLine;
  const cv::Rect bar(kMargin + 8, y, inner * 6 / 10, kBarHeight);
  draw_legend(sheet, bar, style, tally);
  draw_scale_bar(sheet, {width - kMargin, y + kBarHeight}, inner / 4,
                 px_per_cell / geometry.pitch_mm);
  y += kBarHeight + kTick + kSmallLine + kGap / 2;
  for (const std::string& line : lines) {
    sheet.text({kMargin, y}, line, kSmall, Sheet::Weight::normal, Sheet::Align::left, inner);
    y += kSmallLine;
  }
  sheet.write(file);
}

}  // namespace inkwane::map
