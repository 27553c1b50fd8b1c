#include "simulate/spectrum.hpp"

#include <algorithm>
#include <cmath>

namespace inkwane::simulate {
namespace {

struct Row {
  double x, y, z, d50;
};

// CIE 1931 2° observer and illuminant D50, 380 to 780 nm in steps of 10 nm: CIE 15:2004, Tables T.4
// and T.1, as two public copies of the tables have them. `tabulated_white` checks them.
constexpr std::array<Row, 41> kTables{{
    {0.001368, 0.000039, 0.006450, 24.488},  {0.004243, 0.000120, 0.020050, 29.871},
    {0.014310, 0.000396, 0.067850, 49.308},  {0.043510, 0.001210, 0.207400, 56.513},
    {0.134380, 0.004000, 0.645600, 60.034},  {0.283900, 0.011600, 1.385600, 57.818},
    {0.348280, 0.023000, 1.747060, 74.825},  {0.336200, 0.038000, 1.772110, 87.247},
    {0.290800, 0.060000, 1.669200, 90.612},  {0.195360, 0.090980, 1.287640, 91.368},
    {0.095640, 0.139020, 0.812950, 95.109},  {0.032010, 0.208020, 0.465180, 91.963},
    {0.004900, 0.323000, 0.272000, 95.724},  {0.009300, 0.503000, 0.158200, 96.613},
    {0.063270, 0.710000, 0.078250, 97.129},  {0.165500, 0.862000, 0.042160, 102.099},
    {0.290400, 0.954000, 0.020300, 100.755}, {0.433450, 0.994950, 0.008750, 102.317},
    {0.594500, 0.995000, 0.003900, 100.000}, {0.762100, 0.952000, 0.002100, 97.735},
    {0.916300, 0.870000, 0.001650, 98.918},  {1.026300, 0.757000, 0.001100, 93.499},
    {1.062200, 0.631000, 0.000800, 97.688},  {1.002600, 0.503000, 0.000340, 99.269},
    {0.854450, 0.381000, 0.000190, 99.042},  {0.642400, 0.265000, 0.000050, 95.722},
    {0.447900, 0.175000, 0.000020, 98.857},  {0.283500, 0.107000, 0.000000, 95.667},
    {0.164900, 0.061000, 0.000000, 98.190},  {0.087400, 0.032000, 0.000000, 103.003},
    {0.046770, 0.017000, 0.000000, 99.133},  {0.022700, 0.008210, 0.000000, 87.381},
    {0.011359, 0.004102, 0.000000, 91.604},  {0.005790, 0.002091, 0.000000, 92.889},
    {0.002899, 0.001047, 0.000000, 76.854},  {0.001440, 0.000520, 0.000000, 86.511},
    {0.000690, 0.000249, 0.000000, 92.580},  {0.000332, 0.000120, 0.000000, 78.230},
    {0.000166, 0.000060, 0.000000, 57.692},  {0.000083, 0.000030, 0.000000, 82.923},
    {0.000042, 0.000015, 0.000000, 78.274},
}};
constexpr int kBandsBefore400 = 2;

std::array<Spectrum, 3> make_weights() {
  std::array<Spectrum, 3> weights{};
  for (int i = 0; i < static_cast<int>(kTables.size()); ++i) {
    const Row& row = kTables[i];
    const int band = std::clamp(i - kBandsBefore400, 0, kBands - 1);
    weights[0][band] += row.x * row.d50;
    weights[1][band] += row.y * row.d50;
    weights[2][band] += row.z * row.d50;
  }
  for (int axis = 0; axis < 3; ++axis) {
    double sum = 0;
    for (const double w : weights[axis]) sum += w;
    for (double& w : weights[axis]) w *= kD50[axis] / sum;
  }
  return weights;
}

constexpr double kKnee = 6.0 / 29.0;  // ISO/CIE 11664-4

double compress(double t) {
  return t > kKnee * kKnee * kKnee ? std::cbrt(t) : t / (3 * kKnee * kKnee) + 4.0 / 29.0;
}

double expand(double f) {
  return f > kKnee ? f * f * f : 3 * kKnee * kKnee * (f - 4.0 / 29.0);
}

constexpr double kDegree = 3.14159265358979323846 / 180;

double hue_degrees(double a, double b) {
  if (a == 0 && b == 0) return 0;
  const double hue = std::atan2(b, a) / kDegree;
  return hue < 0 ? hue + 360 : hue;
}

double power7(double x) {
  return x * x * x * x * x * x * x;
}

}  // namespace

const std::array<Spectrum, 3>& observer_weights() {
  static const std::array<Spectrum, 3> weights = make_weights();
  return weights;
}

Xyz tabulated_white() {
  Xyz sum{};
  for (const Row& row : kTables) {
    sum[0] += row.x * row.d50;
    sum[1] += row.y * row.d50;
    sum[2] += row.z * row.d50;
  }
  return {sum[0] / sum[1], 1, sum[2] / sum[1]};
}

Xyz spectrum_to_xyz(const Spectrum& reflectance) {
  const auto& weights = observer_weights();
  Xyz xyz{};
  for (int axis = 0; axis < 3; ++axis) {
    for (int band = 0; band < kBands; ++band) xyz[axis] += weights[axis][band] * reflectance[band];
  }
  return xyz;
}

Lab xyz_to_lab(const Xyz& xyz) {
  const double fx = compress(xyz[0] / kD50[0]);
  const double fy = compress(xyz[1] / kD50[1]);
  const double fz = compress(xyz[2] / kD50[2]);
  return {116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)};
}

Xyz lab_to_xyz(const Lab& lab) {
  const double fy = (lab[0] + 16) / 116;
  return {kD50[0] * expand(fy + lab[1] / 500), kD50[1] * expand(fy),
          kD50[2] * expand(fy - lab[2] / 200)};
}

double ciede2000(const Lab& one, const Lab& two) {
  const double mean_c7 = power7((std::hypot(one[1], one[2]) + std::hypot(two[1], two[2])) / 2);
  const double stretch = 1.5 - 0.5 * std::sqrt(mean_c7 / (mean_c7 + power7(25)));  // 1 + G
  const double a1 = stretch * one[1], a2 = stretch * two[1];
  const double c1 = std::hypot(a1, one[2]), c2 = std::hypot(a2, two[2]);
  const double h1 = hue_degrees(a1, one[2]), h2 = hue_degrees(a2, two[2]);
  const bool grey = c1 * c2 == 0;

  double turn = grey ? 0 : h2 - h1;
  if (turn > 180) turn -= 360;
  if (turn < -180) turn += 360;
  const double dl = two[0] - one[0], dc = c2 - c1;
  const double dh = 2 * std::sqrt(c1 * c2) * std::sin(turn / 2 * kDegree);

  double hue = h1 + h2;
  if (!grey) {
    if (std::abs(h1 - h2) > 180) hue += hue < 360 ? 360 : -360;
    hue /= 2;
  }
  const double l = (one[0] + two[0]) / 2, c = (c1 + c2) / 2;
  const double t = 1 - 0.17 * std::cos((hue - 30) * kDegree) + 0.24 * std::cos(2 * hue * kDegree) +
                   0.32 * std::cos((3 * hue + 6) * kDegree) -
                   0.20 * std::cos((4 * hue - 63) * kDegree);
  const double off = (l - 50) * (l - 50);
  const double sl = 1 + 0.015 * off / std::sqrt(20 + off);
  const double sc = 1 + 0.045 * c, sh = 1 + 0.015 * c * t;
  const double bump = std::exp(-((hue - 275) / 25) * ((hue - 275) / 25));
  const double rc = 2 * std::sqrt(power7(c) / (power7(c) + power7(25)));
  const double rt = -std::sin(60 * bump * kDegree) * rc;
  const double l_term = dl / sl, c_term = dc / sc, h_term = dh / sh;
  return std::sqrt(l_term * l_term + c_term * c_term + h_term * h_term + rt * c_term * h_term);
}

}  // namespace inkwane::simulate
