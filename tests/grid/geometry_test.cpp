// Protects: cells lie where docs/formats.md says, whatever the resolution.
#include <catch2/catch.hpp>

#include "grid/grid.hpp"

using namespace inkwane;
using Catch::Matchers::WithinAbs;

TEST_CASE("pitch in pixels follows from millimetres and resolution") {
  const auto g = grid::make_geometry(600, 300, 300, 0.1);
  CHECK_THAT(g.pitch_px, WithinAbs(300 * 0.1 / 25.4, 1e-12));
  CHECK(g.columns == 507);  // 600 / 1.1811 = 507.99 whole cells
  CHECK(g.rows == 253);
  // The first cell reaches from the scan's left edge, −0.5, over one pitch.
  CHECK_THAT(g.origin_px.x - g.pitch_px / 2, WithinAbs(-0.5, 1e-12));
}

TEST_CASE("pixels and cells map to one another") {
  const auto g = grid::make_geometry(1000, 1000, 600, 0.1);
  const Point cell = g.to_cell(g.to_px({12.25, 34.5}));
  CHECK_THAT(cell.x, WithinAbs(12.25, 1e-12));
  CHECK_THAT(cell.y, WithinAbs(34.5, 1e-12));
}
