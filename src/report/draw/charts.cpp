#include <algorithm>
#include <cmath>
#include <numeric>

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

/// On one line of this width; what does not fit ends in an ellipsis.
void short_text(cairo_t* pen, const std::string& words, double x, double y, const Face& face,
                double width) {
  std::string shown = words;
  for (std::size_t end = words.size(); end > 0; end = words.find_last_of(' ', end - 1)) {
    if (end == std::string::npos) break;
    shown = end == words.size() ? words : words.substr(0, end) + " …";
    if (Setting(pen, plain(shown), face, width).lines() == 1) break;
  }
  const Setting setting(pen, plain(shown), face, width);
  setting.draw_lines(0, 1, x, y - setting.line_height(0) / 2);
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
    short_text(pen, row.name, 0, y, kLabel, kLeft - pt(4));
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

constexpr double kSharesHeightMm = 74, kPanelMm = 83;

/// Keeps labels in their order and a line apart, as near their places as that allows.
void spread(std::vector<double>& places, double apart, double top, double bottom) {
  std::vector<std::size_t> order(places.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return places[a] < places[b]; });
  double least = top;
  for (const std::size_t i : order) {
    places[i] = std::max(places[i], least);
    least = places[i] + apart;
  }
  double most = bottom;
  for (auto i = order.rbegin(); i != order.rend(); ++i) {
    places[*i] = std::min(places[*i], most);
    most = places[*i] - apart;
  }
}

/// Marks differ in form, so that lines are told apart in grey.
void form(cairo_t* pen, double x, double y, std::size_t number) {
  constexpr double kSize = 2.5;
  cairo_new_path(pen);
  if (number % 4 == 0) cairo_arc(pen, x, y, kSize, 0, 2 * std::acos(-1.0));
  if (number % 4 == 1) cairo_rectangle(pen, x - kSize, y - kSize, 2 * kSize, 2 * kSize);
  if (number % 4 > 1) {
    const double up = number % 4 == 2 ? -1 : 1;
    cairo_move_to(pen, x, y + 1.3 * kSize * up);
    cairo_line_to(pen, x - 1.2 * kSize, y - kSize * up);
    cairo_line_to(pen, x + 1.2 * kSize, y - kSize * up);
    cairo_close_path(pen);
  }
  // Beyond four forms they are hollow.
  set_ink(pen, number % 8 < 4 ? kAccent : Ink{1, 1, 1});
  cairo_fill_preserve(pen);
  set_ink(pen, kAccent);
  cairo_set_line_width(pen, 0.9);
  cairo_stroke(pen);
}

void draw_panel(cairo_t* pen, const std::vector<std::string>& stages, const SharePanel& panel) {
  constexpr double kMost = 1.1, kLeft = pt(11), kRight = pt(46), kEnd = pt(kPanelMm), kTop = pt(9),
                   kBottom = pt(kSharesHeightMm - 7);
  Face title = kLabel;
  title.bold = true;
  text(pen, panel.title, 0, pt(2.5), title);
  const auto x_of = [&](std::size_t i) {
    const double share = stages.size() < 2 ? 0.5 : double(i) / double(stages.size() - 1);
    return kLeft + pt(3) + (kRight - kLeft - pt(6)) * share;
  };
  const auto y_of = [](double share) {
    return kBottom - (kBottom - kTop) * std::clamp(share / kMost, 0.0, 1.0);
  };
  for (int i = 0; i <= 5; ++i) {
    draw_line(pen, kLeft, y_of(i / 5.0), kRight, y_of(i / 5.0), 0.5, kLine);
    text(pen, percent(i / 5.0, 0), kLeft - 5, y_of(i / 5.0), kTickFace, Align::right);
  }
  for (std::size_t i = 0; i < stages.size(); ++i)
    text(pen, stages[i], x_of(i), kBottom + 8, kTickFace, Align::centre);
  if (panel.lines.empty()) {
    text(pen, say("common.none"), (kLeft + kRight) / 2, (kTop + kBottom) / 2, kTickFace,
         Align::centre);
    return;
  }
  std::vector<double> labels, ends_x, ends_y;
  const double step = std::min(3.2, pt(5) / double(panel.lines.size()));
  for (std::size_t n = 0; n < panel.lines.size(); ++n) {
    // Side by side, so that no interval hides another.
    const double aside = (double(n) - double(panel.lines.size() - 1) / 2) * step;
    double from_x = 0, from_y = 0;
    bool begun = false;
    for (const auto& [stage, share] : panel.lines[n].points) {
      const auto at = std::find(stages.begin(), stages.end(), stage);
      const double x = x_of(static_cast<std::size_t>(at - stages.begin())) + aside,
                   y = y_of(share.value);
      if (begun) draw_line(pen, from_x, from_y, x, y, 0.6, kSoft);
      draw_line(pen, x, y_of(share.ci95[0]), x, y_of(share.ci95[1]), 1.2, kAccent);
      from_x = x, from_y = y, begun = true;
    }
    labels.push_back(from_y), ends_x.push_back(from_x), ends_y.push_back(from_y);
  }
  spread(labels, pt(3.6), kTop, kBottom);
  for (std::size_t n = 0; n < panel.lines.size(); ++n) {
    const double aside = (double(n) - double(panel.lines.size() - 1) / 2) * step;
    for (const auto& [stage, share] : panel.lines[n].points) {
      const auto at = std::find(stages.begin(), stages.end(), stage);
      form(pen, x_of(static_cast<std::size_t>(at - stages.begin())) + aside, y_of(share.value), n);
    }
    draw_line(pen, ends_x[n] + 4, ends_y[n], kRight + 6, labels[n], 0.4, kSoft);
    form(pen, kRight + 10, labels[n], n);
    short_text(pen, panel.lines[n].name, kRight + 16, labels[n], kTickFace, kEnd - kRight - 18);
  }
}

}  // namespace

Plot shares_chart(const std::vector<std::string>& stages, const SharePanel& left,
                  const SharePanel& right) {
  Plot plot;
  plot.width_mm = kPlotMm;
  plot.height_mm = kSharesHeightMm;
  plot.draw = [stages, left, right](cairo_t* pen) {
    draw_panel(pen, stages, left);
    cairo_save(pen);
    cairo_translate(pen, pt(kPlotMm - kPanelMm), 0);
    draw_panel(pen, stages, right);
    cairo_restore(pen);
  };
  return plot;
}

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
