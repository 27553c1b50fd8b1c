// The two sides of the demo's sheet.
#pragma once

#include "simulate/scene.hpp"

namespace inkwane::simulate {

/// The cover: areas and regions of the recto.
void print_cover(Scene& scene);
/// What was painted onto the cover later.
void add_touches(Scene& scene);
/// The inside of the cover: areas and regions of the verso.
void print_inside(Scene& scene);

}  // namespace inkwane::simulate
