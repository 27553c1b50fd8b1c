#include <algorithm>
#include <cmath>
#include <memory>

#include <cairo.h>

#include <inkwane/error.hpp>

#include "report/draw/draw.hpp"
#include "report/draw/type.hpp"
#include "report/html/pictures.hpp"
#include "report/pdf/paper.hpp"
#include "report/pdf/pieces.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

constexpr Face kCaption{Face::Family::sans, 7.8, false, false, kBlack, 1.35};
constexpr Face kSoftCaption{Face::Family::sans, 7.8, false, false, kSoft, 1.35};
constexpr Face kMarkLabel{Face::Family::sans, 6.6, true, false, kBlack, 1.15};
constexpr double kFadedTo = 0.5;  // of a picture beneath marks; report.css holds the same
constexpr Face kMapTitle{Face::Family::serif, 12.2, true, false, kBlack, 1.2};

using Surface = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;

/// A JPEG goes into the file as it is; the surface only says how large it is.
Surface jpeg_surface(const std::filesystem::path& file, const results::Frame& frame) {
  Surface surface(cairo_image_surface_create(CAIRO_FORMAT_RGB24, frame.columns, frame.rows),
                  &cairo_surface_destroy);
  auto bytes = std::make_unique<std::string>(bytes_of(file));
  const auto* data = reinterpret_cast<const unsigned char*>(bytes->data());
  const unsigned long size = bytes->size();
  cairo_surface_set_mime_data(
      surface.get(), CAIRO_MIME_TYPE_JPEG, data, size,
      [](void* owned) { delete static_cast<std::string*>(owned); }, bytes.release());
  return surface;
}

Surface surface_of(const std::filesystem::path& file, const results::Frame& frame) {
  if (file.extension() != ".png") return jpeg_surface(file, frame);
  Surface surface(cairo_image_surface_create_from_png(file.c_str()), &cairo_surface_destroy);
  if (cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS)
    throw Error(ExitCode::output,
                fmt::format("{} could not be read for the report: assess the treatment again.",
                            file.string()));
  return surface;
}

/// A line with a light border, so that it is seen on any ground; its label on a light patch.
void draw_mark(cairo_t* pen, const Mark& mark, double x, double y, double scale) {
  const bool dotted = mark.look == Mark::Look::dotted, solid = mark.look == Mark::Look::solid;
  const double dashes[] = {dotted ? 0.1 : 2.6, dotted ? 1.8 : 1.6};
  cairo_save(pen);
  cairo_set_line_join(pen, CAIRO_LINE_JOIN_ROUND);
  for (const bool border : {true, false}) {
    cairo_new_path(pen);
    for (const Point& p : mark.points)
      cairo_line_to(pen, x + scale * (p.x + 0.5), y + scale * (p.y + 0.5));
    if (mark.closed) cairo_close_path(pen);
    set_ink(pen, border ? Ink{1, 1, 1} : kBlack);
    cairo_set_line_width(pen, border ? 1.7 : dotted ? 1.1 : 0.7);
    cairo_set_line_cap(pen, dotted && !border ? CAIRO_LINE_CAP_ROUND : CAIRO_LINE_CAP_BUTT);
    cairo_set_dash(pen, dashes, border || solid ? 0 : 2, 0);
    cairo_stroke(pen);
  }
  cairo_restore(pen);
  if (mark.label.empty() || mark.points.empty()) return;
  const auto right = std::max_element(mark.points.begin(), mark.points.end(),
                                      [](const Point& a, const Point& b) { return a.x < b.x; });
  const Setting label(pen, plain(mark.label), kMarkLabel);
  const double left = x + scale * right->x + 2.5, top = y + scale * right->y - label.height() / 2;
  fill_box(pen, left - 1, top, label.width() + 2, label.height(), {1, 1, 1});
  label.draw(left, top);
}

/// Fills a box of this width; its height follows from the frame.
void draw_picture(const Press& press, const Picture& picture, double x, double y, double width) {
  if (press.dry) return;
  cairo_t* pen = press.pen;
  const Surface surface = surface_of(press.folder / picture.file, picture.frame);
  const double scale = width / cairo_image_surface_get_width(surface.get());
  cairo_save(pen);
  cairo_translate(pen, x, y);
  cairo_scale(pen, scale, scale);
  cairo_set_source_surface(pen, surface.get(), 0, 0);
  cairo_paint_with_alpha(pen, picture.faded ? kFadedTo : 1);
  cairo_restore(pen);
  for (const Mark& mark : picture.marks) draw_mark(pen, mark, x, y, width / picture.frame.columns);
}

/// Of 1, 2, 5, 10 … mm the longest that is no longer than `longest`.
double round_length(double longest) {
  const double decade = std::pow(10.0, std::floor(std::log10(longest)));
  return longest >= 5 * decade ? 5 * decade : longest >= 2 * decade ? 2 * decade : decade;
}

void draw_scale_bar(cairo_t* pen, double right, double y, double pt_per_mm) {
  const double mm = round_length(pt(30) / pt_per_mm), length = mm * pt_per_mm;
  draw_line(pen, right - length, y, right, y, 1.2, kBlack);
  for (const double x : {right - length, right}) draw_line(pen, x, y - 3, x, y, 0.8, kBlack);
  Setting(pen, plain(say("maps.scale_bar", fmt::arg("mm", fmt::format("{:g}", mm)))), kSoftCaption,
          0, Align::right)
      .draw(right - length - 4, y - 8);
}

}  // namespace

Pieces cut(const Press& press, const Gallery& gallery) {
  constexpr double kGap = pt(4);
  double wide_mm = 0, high_mm = 0;
  for (const Picture& picture : gallery.pictures) {
    wide_mm += picture.frame.columns * picture.frame.pitch_mm;
    high_mm = std::max(high_mm, picture.frame.rows * picture.frame.pitch_mm);
  }
  Pieces pieces;
  if (wide_mm <= 0 || high_mm <= 0) return pieces;
  const double room = Paper::kInner - kGap * static_cast<double>(gallery.pictures.size() - 1);
  const double scale = std::min(room / wide_mm, pt(gallery.most_high_mm) / high_mm);
  std::vector<std::shared_ptr<Setting>> captions;
  double caption_height = 0;
  for (const Picture& picture : gallery.pictures) {
    const double width = picture.frame.columns * picture.frame.pitch_mm * scale;
    captions.push_back(
        std::make_shared<Setting>(press.pen, picture.caption, kCaption, std::max(width, pt(30))));
    caption_height = std::max(caption_height, captions.back()->height());
  }
  std::shared_ptr<Setting> caption;
  double below = 0;
  if (!gallery.caption.empty()) {
    const double bar = gallery.scale_bar ? pt(40) : 0;
    caption =
        std::make_shared<Setting>(press.pen, gallery.caption, kSoftCaption, Paper::kInner - bar);
    below = caption->height() + pt(1.5);
  }
  const double pictures_height = high_mm * scale + pt(1.2) + caption_height;
  pieces.list.push_back({pictures_height + below, [=](double top) {
                           double x = Paper::kLeft;
                           for (std::size_t i = 0; i < gallery.pictures.size(); ++i) {
                             const Picture& picture = gallery.pictures[i];
                             const double width =
                                 picture.frame.columns * picture.frame.pitch_mm * scale;
                             draw_picture(press, picture, x, top, width);
                             captions[i]->draw(x, top + high_mm * scale + pt(1.2));
                             x += width + kGap;
                           }
                           const double y = top + pictures_height + pt(1.5);
                           if (caption != nullptr) caption->draw(Paper::kLeft, y);
                           if (gallery.scale_bar)
                             draw_scale_bar(press.pen, Paper::kRight, y + 8, scale);
                         }});
  pieces.before = pt(1);
  pieces.after = pt(3);
  return pieces;
}

Pieces cut(const Press& press, const MapFigure& figure) {
  constexpr double kMostHigh = pt(192), kMostWide = Paper::kInner;
  const auto title =
      std::make_shared<Setting>(press.pen, plain(figure.title), kMapTitle, Paper::kInner);
  const auto caption =
      std::make_shared<Setting>(press.pen, figure.caption, kSoftCaption, Paper::kInner);
  const results::Frame& frame = figure.picture.frame;
  const double mm_wide = std::max(1.0, frame.columns * frame.pitch_mm),
               mm_high = std::max(1.0, frame.rows * frame.pitch_mm);
  const double scale = std::min(kMostWide / mm_wide, kMostHigh / mm_high);
  const double above = title->height() + caption->height() + pt(2.5);
  const Plot legend = map_legend(figure.kind);
  Pieces pieces;
  pieces.list.push_back({above + mm_high * scale + pt(4 + legend.height_mm), [=](double top) {
                           title->draw(Paper::kLeft, top);
                           caption->draw(Paper::kLeft, top + title->height() + pt(1));
                           const double y = top + above, width = mm_wide * scale,
                                        height = mm_high * scale;
                           draw_picture(press, figure.picture, Paper::kLeft, y, width);
                           set_ink(press.pen, kLine);
                           cairo_set_line_width(press.pen, 0.6);
                           cairo_rectangle(press.pen, Paper::kLeft, y, width, height);
                           cairo_stroke(press.pen);
                           draw_scale_bar(press.pen, Paper::kRight, y + height + pt(10), scale);
                           cairo_save(press.pen);
                           cairo_translate(press.pen, Paper::kLeft, y + height + pt(4));
                           legend.draw(press.pen);
                           cairo_restore(press.pen);
                         }});
  pieces.after = pt(7);
  return pieces;
}

Pieces cut(const Press& press, const Plot& plot) {
  const auto caption =
      std::make_shared<Setting>(press.pen, plot.caption, kCaption, Paper::kInner - pt(10));
  Pieces pieces;
  pieces.list.push_back({pt(plot.height_mm + 1.5) + caption->height(), [=](double top) {
                           cairo_save(press.pen);
                           cairo_translate(press.pen, Paper::kLeft, top);
                           plot.draw(press.pen);
                           cairo_restore(press.pen);
                           caption->draw(Paper::kLeft, top + pt(plot.height_mm + 1.5));
                         }});
  pieces.before = pt(3);
  pieces.after = pt(5);
  return pieces;
}

}  // namespace inkwane::report
