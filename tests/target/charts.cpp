#include "charts.hpp"

#include <cmath>

#include "target/metric.hpp"

namespace inkwane::test {

target::Reference chart(int rows, int columns) {
  // CIE Lab of a chart of 24 colours, D50, rounded; made up along the lines of such charts.
  static const LabD50 common[24] = {
      {38, 14, 14},  {66, 18, 18},  {50, -5, -22}, {43, -13, 22}, {55, 9, -25},  {71, -33, 0},
      {63, 36, 57},  {40, 10, -46}, {51, 48, 16},  {30, 23, -22}, {73, -24, 57}, {72, 19, 68},
      {29, 14, -50}, {55, -38, 31}, {42, 53, 28},  {82, 4, 80},   {52, 50, -15}, {51, -28, -28},
      {96, 0, 1},    {81, -1, 0},   {67, -1, 0},   {51, 0, 0},    {36, 0, -1},   {20, 0, -1}};
  target::Reference reference{rows, columns, {}};
  for (int row = 0; row < rows; ++row) {
    for (int column = 0; column < columns; ++column) {
      const int i = row * columns + column;
      LabD50 lab;
      if (rows == 4 && columns == 6) {
        lab = common[i];
      } else if (row == rows - 1) {
        lab = {95 - 75.0 * column / (columns - 1), 0, 0};
      } else {
        const double hue = 2.4 * i;  // close to the golden angle: neighbours differ
        const double chroma = 20 + 7 * (i % 5);
        lab = {35 + 11.0 * ((i * 3) % 5), chroma * std::cos(hue), chroma * std::sin(hue)};
      }
      reference.patches.push_back({target::patch_id(row, column), lab});
    }
  }
  return reference;
}

Eigen::Vector3d scanner_linear(const LabD50& lab) {
  // Overlapping sensors: each channel sees some of its neighbours; rows sum to 1 for white.
  Eigen::Matrix3d sensors;
  sensors << 1.10, -0.20, 0.10,  //
      -0.30, 1.20, 0.10,         //
      0.02, 0.06, 0.92;
  const XyzD50 xyz = to_xyz(lab);
  const Eigen::Vector3d relative =
      target::vector_of(xyz).cwiseQuotient(target::vector_of(kWhiteD50));
  const Eigen::Vector3d light = (sensors * relative).cwiseMax(1e-4);
  const Eigen::Vector3d exponent(1.06, 1.03, 1.05);  // the profile's tone is not quite right
  return Eigen::Vector3d(0.93 * std::pow(light[0], exponent[0]),
                         0.95 * std::pow(light[1], exponent[1]),
                         0.91 * std::pow(light[2], exponent[2]));
}

std::vector<target::PatchReading> readings_of(const target::Reference& reference) {
  std::vector<target::PatchReading> readings;
  for (const auto& patch : reference.patches) {
    target::PatchReading reading;
    reading.linear = scanner_linear(patch.lab);
    reading.standard_error.setConstant(1e-4);
    reading.spread.setConstant(2e-3);
    readings.push_back(reading);
  }
  return readings;
}

colour::Linearisation profile() {
  return colour::Linearisation::from_profile(colour::srgb_profile(), "scan.tif");
}

}  // namespace inkwane::test
