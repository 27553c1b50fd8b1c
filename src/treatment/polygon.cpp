#include "treatment/polygon.hpp"

#include <algorithm>
#include <cmath>

namespace inkwane::treatment {
namespace {

/// Twice the signed area of the triangle: which side of line ab the point c lies on.
double turn(Point a, Point b, Point c) {
  return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

/// Whether c, known to be on the line ab, lies between a and b.
bool between(Point a, Point b, Point c) {
  return std::min(a.x, b.x) <= c.x && c.x <= std::max(a.x, b.x) && std::min(a.y, b.y) <= c.y &&
         c.y <= std::max(a.y, b.y);
}

bool meet(Point a, Point b, Point c, Point d) {
  const double abc = turn(a, b, c), abd = turn(a, b, d), cda = turn(c, d, a), cdb = turn(c, d, b);
  if (((abc > 0 && abd < 0) || (abc < 0 && abd > 0)) &&
      ((cda > 0 && cdb < 0) || (cda < 0 && cdb > 0))) {
    return true;
  }
  return (abc == 0 && between(a, b, c)) || (abd == 0 && between(a, b, d)) ||
         (cda == 0 && between(c, d, a)) || (cdb == 0 && between(c, d, b));
}

}  // namespace

double polygon_area(const std::vector<Point>& polygon) {
  double sum = 0;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point a = polygon[i], b = polygon[(i + 1) % polygon.size()];
    sum += a.x * b.y - b.x * a.y;
  }
  return std::abs(sum) / 2;
}

std::optional<std::pair<std::size_t, std::size_t>> crossing_edges(
    const std::vector<Point>& polygon) {
  const std::size_t n = polygon.size();
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 2; j < n; ++j) {
      if (i == 0 && j == n - 1) continue;  // neighbours across the closing edge
      if (meet(polygon[i], polygon[i + 1], polygon[j], polygon[(j + 1) % n])) return {{i, j}};
    }
  }
  return std::nullopt;
}

}  // namespace inkwane::treatment
