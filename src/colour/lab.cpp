#include <cmath>
#include <numbers>

#include <inkwane/colour.hpp>

namespace inkwane {
namespace {

// ISO/CIE 11664-4, clause 4: the cube root above (6/29)³, its tangent line below.
constexpr double kLinearBelow = (6.0 / 29.0) * (6.0 / 29.0) * (6.0 / 29.0);
constexpr double kSlope = (29.0 / 6.0) * (29.0 / 6.0) / 3.0;
constexpr double kIntercept = 4.0 / 29.0;

double cube_root(double t) {
  return t > kLinearBelow ? std::cbrt(t) : kSlope * t + kIntercept;
}
double cube(double f) {
  return f > 6.0 / 29.0 ? f * f * f : (f - kIntercept) / kSlope;
}

}  // namespace

LabD50 to_lab(const XyzD50& xyz) {
  const double fx = cube_root(xyz.X / kWhiteD50.X);
  const double fy = cube_root(xyz.Y / kWhiteD50.Y);
  const double fz = cube_root(xyz.Z / kWhiteD50.Z);
  return {116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)};
}

XyzD50 to_xyz(const LabD50& lab) {
  const double fy = (lab.L + 16.0) / 116.0;
  return {kWhiteD50.X * cube(fy + lab.a / 500.0), kWhiteD50.Y * cube(fy),
          kWhiteD50.Z * cube(fy - lab.b / 200.0)};
}

double chroma(const LabD50& lab) {
  return std::hypot(lab.a, lab.b);
}

double hue_degrees(const LabD50& lab) {
  if (lab.a == 0 && lab.b == 0) return 0;
  const double h = std::atan2(lab.b, lab.a) * 180.0 / std::numbers::pi;
  return h < 0 ? h + 360.0 : h;
}

double delta_hue(const LabD50& from, const LabD50& to) {
  // ΔH* = 2 √(C1 C2) sin(Δh / 2), which carries the sign of Δh; ISO/CIE 11664-4, note on ΔH*ab.
  const double c = chroma(from) * chroma(to);
  if (c == 0) return 0;
  const double dot = from.a * to.a + from.b * to.b;
  const double cross = from.a * to.b - from.b * to.a;
  return 2.0 * std::sqrt(c) * std::sin(std::atan2(cross, dot) / 2.0);
}

}  // namespace inkwane
