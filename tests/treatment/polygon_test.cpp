// Protects: a self-crossing region is refused wherever the crossing is, and a sound one never is.
#include "treatment/polygon.hpp"

#include <catch2/catch.hpp>

using namespace inkwane;
using treatment::crossing_edges;
using treatment::polygon_area;

TEST_CASE("area does not depend on the winding") {
  const std::vector<Point> square{{0, 0}, {4, 0}, {4, 3}, {0, 3}};
  CHECK(polygon_area(square) == 12);
  CHECK(polygon_area({square.rbegin(), square.rend()}) == 12);
}

TEST_CASE("simple polygons, convex or not, have no crossing edges") {
  CHECK_FALSE(crossing_edges({{0, 0}, {4, 0}, {2, 3}}));
  CHECK_FALSE(crossing_edges({{0, 0}, {4, 0}, {4, 4}, {2, 1}, {0, 4}}));
}

TEST_CASE("crossings are found, and named") {
  SECTION("a bow tie") {
    const auto edges = crossing_edges({{0, 0}, {4, 4}, {4, 0}, {0, 4}});
    REQUIRE(edges);
    CHECK(edges->first == 0);
    CHECK(edges->second == 2);
  }
  SECTION("across the closing edge") {
    CHECK(crossing_edges({{0, 0}, {4, 0}, {4, 4}, {-2, 2}, {2, -1}}));
  }
  SECTION("a corner that touches an edge") {
    CHECK(crossing_edges({{0, 0}, {4, 0}, {4, 4}, {2, 0}, {0, 4}}));
  }
  SECTION("edges that run along one another") {
    CHECK(crossing_edges({{0, 0}, {4, 0}, {4, 4}, {3, 0}, {1, 0}, {0, 4}}));
  }
}
