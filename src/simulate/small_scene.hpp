// What all small scenes for tests have in common.
#pragma once

#include "simulate/random.hpp"
#include "simulate/scene.hpp"

namespace inkwane::simulate {

/// Sheet, scanner and treatment: a frame, lines of type, a verso with text, the sheet laid down
/// anew and slightly grown.
[[nodiscard]] Scene small_scene(std::uint64_t seed, Random& random);

/// The share of an ink that is kept at every stage after the first.
void set_kept(Scene& scene, const std::string& ink, double kept);

}  // namespace inkwane::simulate
