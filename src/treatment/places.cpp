#include "treatment/places.hpp"

#include <cmath>

#include <fmt/format.h>

#include "treatment/polygon.hpp"

namespace inkwane::treatment {

Point read_point(const Table& table, std::string_view key, const toml::node& node) {
  const toml::array* pair = node.as_array();
  if (pair == nullptr || pair->size() != 2 || !(*pair)[0].is_number() || !(*pair)[1].is_number()) {
    table.fail(key, "each point must be a pair of numbers, [x, y].");
  }
  const Point p{*(*pair)[0].value<double>(), *(*pair)[1].value<double>()};
  if (!std::isfinite(p.x) || !std::isfinite(p.y))
    table.fail(key, "has a point that is not finite.");
  return p;
}

const toml::array& read_array(const Table& table, std::string_view key, const toml::node& node,
                              const std::string& form) {
  const toml::array* array = node.as_array();
  if (array == nullptr) table.fail(key, fmt::format("must be of the form {}.", form));
  return *array;
}

std::vector<Point> read_polygon(const Table& table, std::string_view key, const std::string& id) {
  const toml::node* node = table.find(key);
  if (node == nullptr) {
    table.fail_at(table.line(), fmt::format("\"{}\" lacks the key \"{}\"; add it.", id, key));
  }
  std::vector<Point> polygon;
  for (const toml::node& item : read_array(table, key, *node, "[[x, y], [x, y], [x, y], …]")) {
    polygon.push_back(read_point(table, key, item));
  }
  if (polygon.size() < 3) {
    table.fail(key, fmt::format("of \"{}\" needs at least three points.", id));
  }
  if (const auto edges = crossing_edges(polygon)) {
    table.fail(key, fmt::format("of \"{}\" crosses itself: the edge from point {} meets the edge "
                                "from point {}; put its points in order.",
                                id, edges->first + 1, edges->second + 1));
  }
  if (!(polygon_area(polygon) > 0)) {
    table.fail(key, fmt::format("of \"{}\" encloses nothing.", id));
  }
  return polygon;
}

}  // namespace inkwane::treatment
