// Grades of the textile trade's grey scales, from CIELAB.
//
// Both standards are written for CIELAB of D65 and the 10° observer; here they are taken on D50 and
// 2°, as everything else is. The standards themselves were not read: the formulas follow public
// code that cites EN ISO 105-A05:1997 clauses 7.2 and 8 and EN ISO 105-A04:1999 clause 6, and
// memory where that is silent (said at each); they meet every step of the printed scales
// (tests/published).
#pragma once

#include <string>

#include <inkwane/colour.hpp>

namespace inkwane::colour {

/// ΔE_F of ISO 105-A05: the difference that a grey-scale grade for change in colour goes by, ≥ 0.
/// The weights of chroma and hue are from memory.
[[nodiscard]] double grey_scale_difference(const LabD50& before, const LabD50& after);

/// Grade for change in colour, ISO 105-A05, from 5 (none) down to 1: 5 − ΔE_F / 1.7 up to
/// ΔE_F 3.4, else 5 − log2(ΔE_F / 0.85).
[[nodiscard]] double grade_of_change(const LabD50& before, const LabD50& after);

/// Grade for staining, ISO 105-A04, from 5 (none) down to 1: ΔE_GS = ΔE*ab − 0.4 √(ΔE*ab² − ΔL*²);
/// 6.1 − 1.45 ln ΔE_GS, or, where that is above 4, 5 − 0.23 ΔE_GS. The last two are from memory.
[[nodiscard]] double grade_of_staining(const LabD50& before, const LabD50& after);

/// The grade as it is reported, to the nearest half: "4", "3–4".
[[nodiscard]] std::string half_grade(double grade);

}  // namespace inkwane::colour
