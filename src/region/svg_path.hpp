// The geometry of SVG 1.1: path data, transforms and curves. Internal to this room.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <opencv2/core.hpp>

#include <inkwane/treatment.hpp>

namespace inkwane::region {

/// A line of points; closed where it ends with Z or where it began.
struct Subpath {
  std::vector<Point> points;
  bool closed = false;
};

/// Path data (SVG 1.1, 8.3) with its curves as polylines. Throws std::invalid_argument with a
/// sentence's end ("has no number after …").
[[nodiscard]] std::vector<Subpath> read_path(std::string_view data);

/// An ellipse as a polyline of one turn.
[[nodiscard]] std::vector<Point> ellipse(Point centre, double rx, double ry);

/// All numbers of a list, between white space and commas. Throws std::invalid_argument.
[[nodiscard]] std::vector<double> read_numbers(std::string_view list);

/// A transform attribute (SVG 1.1, 7.6): x' = M (x, y, 1). Throws std::invalid_argument.
[[nodiscard]] cv::Matx33d read_transform(std::string_view text);

[[nodiscard]] inline Point apply(const cv::Matx33d& m, Point p) {
  return {m(0, 0) * p.x + m(0, 1) * p.y + m(0, 2), m(1, 0) * p.x + m(1, 1) * p.y + m(1, 2)};
}

}  // namespace inkwane::region
