// Forms to draw sheets from: polygons in millimetres, and areas of them.
#pragma once

#include "simulate/scene.hpp"

namespace inkwane::simulate {

[[nodiscard]] Polygon box(double x, double y, double width, double height);
/// A box drawn in by `by_mm`, as a region is marked inside its print.
[[nodiscard]] Polygon box_inside(double x, double y, double width, double height,
                                 double by_mm = 0.8);
[[nodiscard]] Polygon ellipse(cv::Point2d centre, double radius_x, double radius_y,
                              double turn_degrees = 0);
/// A leaf or petal from its foot outwards; 0° points right, 90° down. `belly`: where it is widest,
/// 0–1; `bend`: how far its tip is swept aside, as a share of its length.
[[nodiscard]] Polygon leaf(cv::Point2d foot, double degrees, double length, double width,
                           double belly = 0.5, double bend = 0);
/// A ribbon along a smooth curve through three points, tapering from one width to another.
[[nodiscard]] Polygon ribbon(cv::Point2d from, cv::Point2d control, cv::Point2d to,
                             double width_from, double width_to);

[[nodiscard]] Area solid(Polygon outline, const std::string& ink, double amount = 1);
[[nodiscard]] Area screened(Polygon outline, const std::string& ink, double lpi, double angle,
                            double coverage);
[[nodiscard]] Area line(Polygon outline, const std::string& ink, double width_mm,
                        bool closed = true);
/// Nothing printed before stays here.
[[nodiscard]] Area left_out(Polygon outline);
/// `at`: top left, or top centre for centred lines.
[[nodiscard]] Area lettering(cv::Point2d at, const std::string& words, double size_mm,
                             const std::string& font = "DejaVu Serif",
                             Text::Align align = Text::Align::left, double width_mm = 0);

}  // namespace inkwane::simulate
