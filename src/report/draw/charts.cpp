#include <algorithm>
#include <cmath>

#include <cairo.h>

#include "report/draw/draw.hpp"
#include "report/draw/type.hpp"
#include "report/figures.hpp"
#include "report/scale.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

constexpr double kPlotMm = 170;
constexpr Face kLabel{Face::Family::sans, 8, false, false, kBlack, 1.2};
constexpr Face kTickFace{Face::Family::sans, 7, false, false, kSoft, 1.2};

void text(cairo_t* pen, const std::string& words, double x, double y, const Face& face,
          Align align = Align::left) {
  const Setting setting(pen, plain(words), face, 0, align);
  setting.draw(x, y - setting.height() / 2);
}

void dot(cairo_t* pen, double x, double y, double radius, const Ink& ink) {
  set_ink(pen, ink);
  cairo_arc(pen, x, y, radius, 0, 2 * std::acos(-1.0));
  cairo_fill(pen);
}

void draw_intervals(cairo_t* pen, const std::vector<IntervalRow>& rows) {
  constexpr double kEnd = 10, kRow = pt(5.4), kTop = pt(6), kLeft = pt(56),
                   kRight = pt(kPlotMm - 14);
  const auto x_of = [](double dE00) {
    return kLeft + (kRight - kLeft) * std::clamp(dE00 / kEnd, 0.0, 1.0);
  };
  const double bottom = kTop + kRow * static_cast<double>(rows.size());
  for (int tick = 0; tick <= 10; tick += 2) {
    draw_line(pen, x_of(tick), kTop, x_of(tick), bottom + 3, 0.5, kLine);
    text(pen, std::to_string(tick), x_of(tick), bottom + 8, kTickFace, Align::centre);
  }
  for (const auto& [dE00, name] : {std::pair{kHalfSee, "a"}, {kNoticeable, "b"}, {kStrong, "c"}}) {
    draw_line(pen, x_of(dE00), kTop - 2, x_of(dE00), bottom, 0.6, kSoft, true);
    text(pen, name, x_of(dE00), kTop - 7, kTickFace, Align::centre);
  }
  double y = kTop + kRow / 2;
  for (const IntervalRow& row : rows) {
    const Setting name(pen, plain(row.name), kLabel, kLeft - pt(4));
    name.draw_lines(0, 1, 0, y - name.line_height(0) / 2);
    const auto ends = row.ci95.value_or(std::array<double, 2>{row.dE00, row.dE00});
    draw_line(pen, x_of(ends[0]), y, x_of(ends[1]), y, 1.6, kAccent);
    if (row.dE00 <= kEnd)
      dot(pen, x_of(row.dE00), y, 2.5, kAccent);
    else
      text(pen, decimal(row.dE00, 1) + " →", kRight + 4, y, kLabel);
    y += kRow;
  }
}

constexpr double kCurveWidthMm = 130, kCurveHeightMm = 82;

void draw_curve(cairo_t* pen, const std::vector<TradeOffPoint>& points) {
  constexpr double kLeft = pt(22), kRight = pt(kCurveWidthMm - 8), kTop = pt(6),
                   kBottom = pt(kCurveHeightMm - 16);
  double most = 0.25;
  for (const TradeOffPoint& point : points)
    while (most < 1 && point.lost.ci95[1] > most) most *= 2;  // 25, 50 or 100 %
  const auto x_of = [&](double share) {
    return kLeft + (kRight - kLeft) * std::clamp(share, 0.0, 1.0);
  };
  const auto y_of = [&](double share) {
    return kBottom - (kBottom - kTop) * std::clamp(share / most, 0.0, 1.0);
  };
  for (int i = 0; i <= 5; ++i) {
    const double x = x_of(i / 5.0), y = y_of(most * i / 5.0);
    draw_line(pen, x, kTop, x, kBottom, 0.5, kLine);
    draw_line(pen, kLeft, y, kRight, y, 0.5, kLine);
    text(pen, percent(i / 5.0, 0), x, kBottom + 8, kTickFace, Align::centre);
    text(pen, percent(most * i / 5.0, 0), kLeft - 5, y, kTickFace, Align::right);
  }
  text(pen, say("course.removed_axis"), (kLeft + kRight) / 2, kBottom + 22, kLabel, Align::centre);
  cairo_save(pen);
  cairo_translate(pen, pt(4), (kTop + kBottom) / 2);
  cairo_rotate(pen, -std::acos(-1.0) / 2);
  text(pen, say("course.lost_axis"), 0, 0, kLabel, Align::centre);
  cairo_restore(pen);
  for (std::size_t i = 1; i < points.size(); ++i)
    draw_line(pen, x_of(points[i - 1].removed.value), y_of(points[i - 1].lost.value),
              x_of(points[i].removed.value), y_of(points[i].lost.value), 0.9, kSoft);
  for (const TradeOffPoint& point : points) {
    const double x = x_of(point.removed.value), y = y_of(point.lost.value);
    draw_line(pen, x_of(point.removed.ci95[0]), y, x_of(point.removed.ci95[1]), y, 1.4, kAccent);
    draw_line(pen, x, y_of(point.lost.ci95[0]), x, y_of(point.lost.ci95[1]), 1.4, kAccent);
    dot(pen, x, y, 2.8, kAccent);
    Face name = kLabel;
    name.bold = true;
    const bool at_end = point.removed.value > 0.85;
    text(pen, point.stage, at_end ? x - 6 : x + 6, y - 9, name,
         at_end ? Align::right : Align::left);
  }
}

}  // namespace

Plot interval_chart(const std::vector<IntervalRow>& rows) {
  Plot plot;
  plot.width_mm = kPlotMm;
  plot.height_mm = 11 + 5.4 * static_cast<double>(rows.size());
  plot.draw = [rows](cairo_t* pen) { draw_intervals(pen, rows); };
  return plot;
}

Plot trade_off_curve(const std::vector<TradeOffPoint>& points) {
  Plot plot;
  plot.width_mm = kCurveWidthMm;
  plot.height_mm = kCurveHeightMm;
  plot.draw = [points](cairo_t* pen) { draw_curve(pen, points); };
  return plot;
}

}  // namespace inkwane::report
