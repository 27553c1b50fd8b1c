#include "simulate/chart.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>
#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "simulate/random.hpp"

namespace inkwane::simulate {
namespace {

// Lab D50 of the 24-patch chart, row by row: published values of an older edition.
constexpr std::array<Lab, 24> kNominal{{
    {37.99, 13.56, 14.06},  {65.71, 18.13, 17.81},   {49.93, -4.88, -21.93}, {43.14, -13.10, 21.91},
    {55.11, 8.84, -25.40},  {70.72, -33.40, -0.20},  {62.66, 36.07, 57.10},  {40.02, 10.41, -45.96},
    {51.12, 48.24, 16.25},  {30.33, 22.98, -21.59},  {72.53, -23.71, 57.26}, {71.94, 19.36, 67.86},
    {28.78, 14.18, -50.30}, {55.26, -38.34, 31.37},  {42.10, 53.38, 28.19},  {81.73, 4.04, 79.82},
    {51.94, 49.99, -14.57}, {51.04, -28.63, -28.64}, {96.54, -0.43, 1.19},   {81.26, -0.64, -0.34},
    {66.77, -0.73, -0.50},  {50.87, -0.15, -0.27},   {35.66, -0.42, -1.23},  {20.46, -0.08, -0.97},
}};

constexpr double kPi = 3.14159265358979323846;

/// Colours for other layouts: hues by the golden angle, so that neighbours differ, greys last.
std::vector<Lab> spread_colours(int rows, int columns) {
  std::vector<Lab> colours;
  for (int i = 0; i < (rows - 1) * columns; ++i) {
    const double hue = i * kPi * (3 - std::sqrt(5.0));
    const double lightness = 38 + 38 * std::fmod(i * 0.618, 1.0);
    const double chroma = 22 + 18 * std::fmod(i * 0.381, 1.0);
    colours.push_back({lightness, chroma * std::cos(hue), chroma * std::sin(hue)});
  }
  for (int i = 0; i < columns; ++i) {
    colours.push_back({columns == 1 ? 50 : 95.0 - 75.0 * i / (columns - 1), 0, 0});
  }
  return colours;
}

/// Bumps as pigments have them, in z.
Spectrum bumps(Random& random, double height) {
  Spectrum leaning{};
  for (int bump = 0; bump < 6; ++bump) {
    const double h = height * static_cast<double>(random.normal());
    const double centre = random.uniform(400, 700), width = random.uniform(18, 40);
    for (int i = 0; i < kBands; ++i) {
      const double x = (band_nm(i) - centre) / width;
      leaning[i] += h * std::exp(-x * x / 2);
    }
  }
  return leaning;
}

}  // namespace

Spectrum reflectance_of(const Lab& lab, const Spectrum& leaning) {
  using Vector = Eigen::Matrix<double, kBands, 1>;
  const Xyz xyz = lab_to_xyz(lab);
  Eigen::Matrix<double, 3, kBands> weights;
  for (int axis = 0; axis < 3; ++axis) {
    for (int i = 0; i < kBands; ++i) weights(axis, i) = observer_weights()[axis][i];
  }
  const Eigen::Vector3d aim(xyz[0], xyz[1], xyz[2]);
  const Vector lean = Eigen::Map<const Vector>(leaning.data());

  // Roughness Σ (z_i+1 − z_i)² has this matrix as its second derivative, halved twice.
  Eigen::Matrix<double, kBands, kBands> rough = Eigen::Matrix<double, kBands, kBands>::Zero();
  for (int i = 0; i < kBands; ++i) {
    rough(i, i) = i == 0 || i == kBands - 1 ? 2 : 4;
    if (i > 0) rough(i, i - 1) = rough(i - 1, i) = -2;
  }

  Vector z = Vector::Constant(std::atanh(2 * std::clamp(xyz[1], 0.01, 0.98) - 1));
  Eigen::Vector3d multipliers = Eigen::Vector3d::Zero();
  constexpr int kUnknowns = kBands + 3;
  for (int round = 0; round < 200; ++round) {
    const Vector t = z.array().tanh();
    const Vector slope = (1 - t.array().square()) / 2;
    const Vector pull = weights.transpose() * multipliers;
    Eigen::Matrix<double, kUnknowns, 1> miss;
    miss.head<kBands>() = rough * (z - lean) + slope.cwiseProduct(pull);
    miss.tail<3>() = weights * ((t.array() + 1) / 2).matrix() - aim;
    if (miss.cwiseAbs().maxCoeff() < 1e-11) {
      Spectrum reflectance{};
      for (int i = 0; i < kBands; ++i) reflectance[i] = (t[i] + 1) / 2;
      return reflectance;
    }
    Eigen::Matrix<double, kUnknowns, kUnknowns> derivative =
        Eigen::Matrix<double, kUnknowns, kUnknowns>::Zero();
    derivative.topLeftCorner<kBands, kBands>() = rough;
    derivative.topLeftCorner<kBands, kBands>().diagonal() -=
        (2 * t.array() * slope.array() * pull.array()).matrix();
    derivative.topRightCorner<kBands, 3>() = slope.asDiagonal() * weights.transpose();
    derivative.bottomLeftCorner<3, kBands>() = weights * slope.asDiagonal();
    Eigen::Matrix<double, kUnknowns, 1> step = derivative.partialPivLu().solve(-miss);
    const double largest = step.head<kBands>().cwiseAbs().maxCoeff();
    if (largest > 1) step /= largest;
    z += step.head<kBands>();
    multipliers += step.tail<3>();
  }
  throw Error(ExitCode::usage,
              fmt::format("No reflectance has the colour Lab {:.2f}, {:.2f}, {:.2f}; choose one "
                          "that a print can have.",
                          lab[0], lab[1], lab[2]));
}

std::vector<Patch> make_chart(int rows, int columns, std::uint64_t seed) {
  Random random(seed, 1);
  const bool common = rows == 4 && columns == 6;
  const std::vector<Lab> aims =
      common ? std::vector<Lab>(kNominal.begin(), kNominal.end()) : spread_colours(rows, columns);
  std::vector<Patch> patches;
  for (int i = 0; i < rows * columns; ++i) {
    const bool grey = i >= (rows - 1) * columns;
    Lab lab = aims[i];
    // Editions of one chart differ by about ΔE00 1; greys by less.
    const double spread = grey ? 0.15 : 0.8;
    for (double& value : lab) value += spread * static_cast<double>(random.normal());
    patches.push_back({fmt::format("{}{}", static_cast<char>('A' + i / columns), i % columns + 1),
                       reflectance_of(lab, bumps(random, grey ? 0.04 : 0.13))});
  }
  return patches;
}

std::vector<cv::Point2d> ChartLayout::corners() const {
  const double left = border_mm, right = width_mm() - border_mm;
  const double top = border_mm, bottom = height_mm() - border_mm;
  return {{left, top}, {right, top}, {right, bottom}, {left, bottom}};
}

}  // namespace inkwane::simulate
