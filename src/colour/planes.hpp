// CIELAB and CIEDE2000 of many colours at once: planes of float, with the widest vectors that the
// processor at hand has (Highway, dynamic dispatch). The scalar formulas of inkwane/colour.hpp are
// the truth that these are held to.
#pragma once

#include <array>
#include <cstddef>

namespace inkwane::colour {

/// Three planes of `n` values each; none need be aligned.
using Planes = std::array<float*, 3>;
using ConstPlanes = std::array<const float*, 3>;

/// Linear light of any three primaries → L*, a*, b* (D50). `to_xyz`: to XYZ D50, row by row.
/// Within 0.001 of to_lab for 0–2 of light. NaN where a channel is NaN. May be done in place.
void to_lab_planes(const std::array<float, 9>& to_xyz, const ConstPlanes& light, std::size_t n,
                   const Planes& lab);

/// CIEDE2000 of n pairs of Lab D50. Within 1e-4 of inkwane::ciede2000 for L* 0–100, a* and b*
/// −128–128, exactly opposite hues included: which of two hues lies ahead of the other is told
/// without rounding, as there. NaN where a value is NaN.
void ciede2000_planes(const ConstPlanes& one, const ConstPlanes& two, std::size_t n, float* out);

}  // namespace inkwane::colour
