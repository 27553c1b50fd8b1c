// The colour scales of the maps.
//
// Source: built here, from cubic Bézier curves in CIELAB whose control points are our own; no
// outside colour map, so no licence but the project's. Reason: lightness falls without a turn from
// one end to the other, so that order is kept in a grey copy and for colour-blind readers, and
// neighbouring steps are equally far apart in CIEDE2000, so that no edge is seen where the values
// have none.
#pragma once

#include <array>
#include <cstdint>

#include <inkwane/colour.hpp>

namespace inkwane::map {

/// Steps of a scale; between two of them lies about one and a half ΔE00.
inline constexpr int kScaleSteps = 64;

using Rgb = std::array<std::uint8_t, 3>;  ///< encoded sRGB
using Scale = std::array<Rgb, kScaleSteps>;

/// For amounts: pale yellow through red to near-black violet.
[[nodiscard]] const Scale& sequential_scale();
/// For signed values: dark blue, through the white of paper at 0, to dark brown.
[[nodiscard]] const Scale& diverging_scale();

/// The step that stands for a value between the ends; values beyond are drawn as the end.
[[nodiscard]] int scale_step(double value, double low, double high);

}  // namespace inkwane::map
