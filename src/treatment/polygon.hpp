// Plane geometry of region polygons.
#pragma once

#include <optional>
#include <utility>
#include <vector>

#include <inkwane/treatment.hpp>

namespace inkwane::treatment {

/// Area by the shoelace formula, in squared units of the points; positive whatever the winding.
[[nodiscard]] double polygon_area(const std::vector<Point>& polygon);

/// The first pair of edges (numbers of their first points, from 0) that cross or overlap, though
/// they are not neighbours; none for a simple polygon.
[[nodiscard]] std::optional<std::pair<std::size_t, std::size_t>> crossing_edges(
    const std::vector<Point>& polygon);

}  // namespace inkwane::treatment
