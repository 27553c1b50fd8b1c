#include "map/marks.hpp"

#include <cmath>

#include <fmt/format.h>

#include "map/shrink.hpp"

namespace inkwane::map {
namespace {

constexpr double kLine = 2, kLabel = 17, kSmall = 19;
constexpr int kTick = 7;

// Measures of a picture of marks alone, in pixels; as those of the maps.
constexpr int kMargin = 48, kTitleLine = 46, kTextLine = 34, kGap = 22, kPlateLine = 46;
constexpr int kLeastWidth = 1000;
constexpr double kTitle = 32, kText = 22;

}  // namespace

void draw_marks(Sheet& sheet, const cv::Rect& frame, const grid::Geometry& geometry,
                const std::vector<Mark>& marks) {
  const double scale = frame.width / static_cast<double>(geometry.columns);
  for (const Mark& mark : marks) {
    std::vector<cv::Point2d> line;
    for (const Point& px : mark.points_px) {
      const Point cell = geometry.to_cell(px);
      line.emplace_back(frame.x + (cell.x + 0.5) * scale, frame.y + (cell.y + 0.5) * scale);
    }
    if (line.size() < 2) continue;
    if (mark.closed) line.push_back(line.front());
    cv::Point2d right = line.front();
    for (std::size_t i = 1; i < line.size(); ++i) {
      sheet.line(line[i - 1], line[i], kLine);
      if (line[i].x > right.x) right = line[i];
    }
    const bool room = right.x + kLabel * static_cast<double>(mark.label.size()) <
                      static_cast<double>(frame.br().x);
    sheet.text({static_cast<int>(right.x) + (room ? 6 : -6),
                static_cast<int>(right.y) - static_cast<int>(kLabel)},
               mark.label, kLabel, Sheet::Weight::bold,
               room ? Sheet::Align::left : Sheet::Align::right);
  }
}

void draw_scale_bar(Sheet& sheet, cv::Point right, int longest_px, double px_per_mm) {
  const double longest_mm = longest_px / px_per_mm;
  const double decade = std::pow(10.0, std::floor(std::log10(longest_mm)));
  const double mm = longest_mm >= 5 * decade   ? 5 * decade
                    : longest_mm >= 2 * decade ? 2 * decade
                                               : decade;
  const double left = right.x - mm * px_per_mm;
  const double y = right.y;
  sheet.line({left, y}, {double(right.x), y}, 3);
  for (const double x : {left + 1, right.x - 1.0}) sheet.line({x, y - 9}, {x, y + 1.5}, 2);
  sheet.text({static_cast<int>((left + right.x) / 2), right.y + kTick + 2},
             fmt::format("{:g} mm", mm), kSmall, Sheet::Weight::normal, Sheet::Align::centre);
}

void write_marks(const std::filesystem::path& file, const cv::Mat& srgb,
                 const grid::Geometry& geometry, const std::vector<Mark>& marks,
                 const std::string& title, const std::string& note, const Caption& caption) {
  const int header =
      kMargin + kTitleLine + kTextLine + (caption.calibrated ? 0 : kPlateLine) + kGap;
  const int footer = kGap + 2 * kTextLine + kMargin;
  const double scale = std::min((kLongestPx - 2 * kMargin) / double(srgb.cols),
                                (kLongestPx - header - footer) / double(srgb.rows));
  const cv::Size size(std::max(1, static_cast<int>(srgb.cols * scale)),
                      std::max(1, static_cast<int>(srgb.rows * scale)));
  const int width = std::max(size.width + 2 * kMargin, kLeastWidth), inner = width - 2 * kMargin;
  Sheet sheet({width, header + size.height + footer}, sequential_scale());
  int y = kMargin - 8;
  sheet.text({kMargin, y}, title, kTitle, Sheet::Weight::bold, Sheet::Align::left, inner);
  y += kTitleLine;
  sheet.text({kMargin, y}, fmt::format("{} · {}", caption.what, caption.object), kText,
             Sheet::Weight::normal, Sheet::Align::left, inner);
  y += kTextLine;
  if (!caption.calibrated) sheet.plate({kMargin, y + 4}, "Uncalibrated: no colour target", kSmall);
  const cv::Rect frame({(width - size.width) / 2, header}, size);
  const cv::Mat ground = faded(srgb, size);
  cv::Mat paint = sheet.paint()(frame);
  for (int row = 0; row < paint.rows; ++row) {
    for (int column = 0; column < paint.cols; ++column)
      paint.at<std::uint8_t>(row, column) = Sheet::grey(ground.at<std::uint8_t>(row, column));
  }
  sheet.frame(frame);
  draw_marks(sheet, frame, geometry, marks);
  y = frame.br().y + kGap;
  sheet.text({kMargin, y}, note, kSmall, Sheet::Weight::normal, Sheet::Align::left, inner * 7 / 10);
  draw_scale_bar(sheet, {width - kMargin, y + 10}, inner / 4, scale / geometry.pitch_mm);
  sheet.write(file);
}

}  // namespace inkwane::map
