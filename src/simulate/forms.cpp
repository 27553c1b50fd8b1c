#include "simulate/forms.hpp"

#include <cmath>

namespace inkwane::simulate {
namespace {

constexpr double kPi = 3.14159265358979323846;

cv::Point2d heading(double degrees) {
  return {std::cos(degrees * kPi / 180), std::sin(degrees * kPi / 180)};
}

}  // namespace

Polygon box(double x, double y, double width, double height) {
  return {{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}};
}

Polygon box_inside(double x, double y, double width, double height, double by_mm) {
  return box(x + by_mm, y + by_mm, width - 2 * by_mm, height - 2 * by_mm);
}

Polygon ellipse(cv::Point2d centre, double radius_x, double radius_y, double turn_degrees) {
  constexpr int kPoints = 72;
  const cv::Point2d along = heading(turn_degrees), across(-along.y, along.x);
  Polygon outline;
  for (int i = 0; i < kPoints; ++i) {
    const double angle = 2 * kPi * i / kPoints;
    outline.push_back(centre + along * (radius_x * std::cos(angle)) +
                      across * (radius_y * std::sin(angle)));
  }
  return outline;
}

Polygon leaf(cv::Point2d foot, double degrees, double length, double width, double belly,
             double bend) {
  constexpr int kPoints = 24;  // a side
  const cv::Point2d along = heading(degrees), across(-along.y, along.x);
  const double power = std::log(0.5) / std::log(belly);  // belly^power = ½: the sine's top
  Polygon outline;
  for (int i = 0; i <= 2 * kPoints; ++i) {
    const bool out = i <= kPoints;
    const double t = static_cast<double>(out ? i : 2 * kPoints - i) / kPoints;
    const double half = (out ? 0.5 : -0.5) * width * std::sin(kPi * std::pow(t, power));
    outline.push_back(foot + along * (length * t) + across * (half + bend * length * t * t));
  }
  return outline;
}

Polygon ribbon(cv::Point2d from, cv::Point2d control, cv::Point2d to, double width_from,
               double width_to) {
  constexpr int kPoints = 24;
  Polygon left, right;
  for (int i = 0; i <= kPoints; ++i) {
    const double t = static_cast<double>(i) / kPoints, s = 1 - t;
    const cv::Point2d at = from * (s * s) + control * (2 * s * t) + to * (t * t);
    cv::Point2d along = (control - from) * s + (to - control) * t;
    along /= cv::norm(along);
    const cv::Point2d half = cv::Point2d(-along.y, along.x) * ((width_from * s + width_to * t) / 2);
    left.push_back(at + half);
    right.push_back(at - half);
  }
  left.insert(left.end(), right.rbegin(), right.rend());
  return left;
}

Area solid(Polygon outline, const std::string& ink, double amount) {
  Area area;
  area.outline_mm = std::move(outline);
  area.ink = ink;
  area.amount = amount;
  return area;
}

Area screened(Polygon outline, const std::string& ink, double lpi, double angle, double coverage) {
  Area area = solid(std::move(outline), ink);
  area.screen_lpi = lpi;
  area.screen_angle = angle;
  area.coverage = coverage;
  return area;
}

Area line(Polygon outline, const std::string& ink, double width_mm, bool closed) {
  Area area = solid(std::move(outline), ink);
  area.line_mm = width_mm;
  area.closed = closed;
  return area;
}

Area left_out(Polygon outline) {
  return solid(std::move(outline), "");
}

Area lettering(cv::Point2d at, const std::string& words, double size_mm, const std::string& font,
               Text::Align align, double width_mm) {
  Area area = solid({at}, "black");
  area.text = {words, font, size_mm, width_mm, align};
  return area;
}

}  // namespace inkwane::simulate
