// Colorimetry of the CIE 1931 2° observer under illuminant D50, as the ICC profile connection
// space.
//
// Vocabulary, used everywhere in inkwane:
//   encoded  a scanner's channel value as stored in the file, scaled to 0–1 (non-linear)
//   linear   proportional to light, 0–1 for black to white
//   XyzD50   tristimulus values relative to the D50 white, Y = 1 for the perfect diffuser
//   LabD50   CIELAB against the D50 white: L* 0–100, a* and b* about ±128
#pragma once

namespace inkwane {

struct XyzD50 {
  double X = 0, Y = 0, Z = 0;
};

struct LabD50 {
  double L = 0, a = 0, b = 0;
};

/// White of the ICC profile connection space: ICC.1:2022 clause 7.2.16 (nCIEXYZ of D50); the same
/// digits stand in LittleCMS's lcms2.h (cmsD50X, cmsD50Y, cmsD50Z).
inline constexpr XyzD50 kWhiteD50{0.9642, 1.0, 0.8249};

/// CIELAB, ISO/CIE 11664-4. Defined for all finite values, negative ones through the linear branch.
[[nodiscard]] LabD50 to_lab(const XyzD50& xyz);
[[nodiscard]] XyzD50 to_xyz(const LabD50& lab);

/// C*ab and h_ab (degrees, 0 ≤ h < 360; 0 for a neutral colour), ISO/CIE 11664-4.
[[nodiscard]] double chroma(const LabD50& lab);
[[nodiscard]] double hue_degrees(const LabD50& lab);

/// ΔH*ab of `to` against `from`, signed like the turn of hue (positive anticlockwise), ISO/CIE
/// 11664-4.
[[nodiscard]] double delta_hue(const LabD50& from, const LabD50& to);

/// CIEDE2000 with kL = kC = kH = 1, ISO/CIE 11664-6; after Sharma, Wu, Dalal, Color Res. Appl.
/// 30(1), 2005. Where the two hues are exactly opposite the mean hue is (h1 + h2) / 2.
[[nodiscard]] double ciede2000(const LabD50& one, const LabD50& two);

}  // namespace inkwane
