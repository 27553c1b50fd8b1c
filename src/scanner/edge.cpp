#include "scanner/edge.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include <Eigen/QR>
#include <fmt/format.h>
#include <unsupported/Eigen/NonLinearOptimization>
#include <unsupported/Eigen/NumericalDiff>

#include <inkwane/error.hpp>

namespace inkwane::scanner {
namespace {

/// Of each edge, this much of its length about its middle, and this far to both sides.
constexpr double kAlongMm = 3, kAcrossMm = 0.9, kAcrossPx = 5;
/// An edge along the rows or columns of pixels shows each line the same phase, so its width cannot
/// be told: it must cross them by at least this.
constexpr double kLeastSlantDegrees = 2;
constexpr double kLeastMm = 0.001;

double density(double z) {
  return std::exp(-z * z / 2) / std::sqrt(2 * std::numbers::pi);
}
double cumulative(double z) {
  return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

/// A step seen through a Gaussian of `sigma` and a pixel one wide, at a distance `s` from it.
double blurred_step(double s, double sigma) {
  const auto integral = [sigma](double x) {  // of the cumulative Gaussian
    return x * cumulative(x / sigma) + sigma * density(x / sigma);
  };
  return integral(s + 0.5) - integral(s - 0.5);
}

struct Pixel {
  double across = 0, along = 0, light = 0;
};

/// dark, light, place, slant, ln σ (pixels), slope of the light side (stray light of the square).
using Unknowns = Eigen::VectorXd;

struct EdgeModel {
  using Scalar = double;
  enum { InputsAtCompileTime = Eigen::Dynamic, ValuesAtCompileTime = Eigen::Dynamic };
  using InputType = Unknowns;
  using ValueType = Eigen::VectorXd;
  using JacobianType = Eigen::MatrixXd;

  const std::vector<Pixel>* pixels;
  [[nodiscard]] int inputs() const { return 6; }
  [[nodiscard]] int values() const { return static_cast<int>(pixels->size()); }
  int operator()(const Unknowns& u, Eigen::VectorXd& out) const {
    const double sigma = std::exp(std::clamp(u[4], -6.0, 4.0));
    for (std::size_t i = 0; i < pixels->size(); ++i) {
      const Pixel& p = (*pixels)[i];
      const double s = p.across - u[2] - u[3] * p.along;
      out[static_cast<Eigen::Index>(i)] =
          u[0] + (u[1] * (1 + u[5] * s) - u[0]) * blurred_step(s, sigma) - p.light;
    }
    return 0;
  }
};

/// σ in pixels of one edge; none where no clear step is there.
std::optional<double> fit_edge(const std::vector<Pixel>& pixels) {
  double dark = 0, light = 0;
  int darks = 0, lights = 0;
  for (const Pixel& p : pixels) {
    if (p.across < 0) dark += p.light, ++darks;
    if (p.across > 0) light += p.light, ++lights;
  }
  if (darks < 50 || lights < 50) return std::nullopt;
  dark /= darks, light /= lights;
  if (light < 2 * dark) return std::nullopt;
  Unknowns at(6);
  at << dark, light, 0, 0, std::log(0.5), 0;
  using Differentiable = Eigen::NumericalDiff<EdgeModel>;
  Differentiable model(EdgeModel{&pixels});
  Eigen::LevenbergMarquardt<Differentiable> search(model);
  search.parameters.maxfev = 400;
  search.minimize(at);
  if (!at.allFinite() || std::abs(at[2]) > kAcrossPx) return std::nullopt;
  return std::exp(std::clamp(at[4], -6.0, 4.0));
}

/// Mean and the standard uncertainty of it, mm.
std::pair<double, double> summarise(const std::vector<double>& sigmas) {
  double mean = 0, squares = 0;
  const double n = static_cast<double>(sigmas.size());
  for (const double s : sigmas) mean += s / n;
  for (const double s : sigmas) squares += (s - mean) * (s - mean);
  return {mean, std::max(kLeastMm, std::sqrt(squares / (n - 1) / n))};
}

}  // namespace

PointSpread measure_point_spread(const CardReadings& readings, const CardPlace& place,
                                 const std::string& file) {
  std::array<std::vector<double>, 2> sigmas;  // across columns (x), across rows (y)
  for (std::size_t k = 0; k < readings.squares.size(); ++k) {
    const card::Square& square = card::squares()[k];
    const Part& part = readings.squares[k];
    for (int side = 0; side < 4; ++side) {
      const double turn = (square.turn_degrees + 90 * side) * std::numbers::pi / 180;
      const cv::Point2d out_mm(std::cos(turn), std::sin(turn));
      const cv::Point2d edge = place.to_px(square.centre_mm + card::kSquareMm / 2 * out_mm);
      cv::Point2d normal = place.to_px(square.centre_mm + out_mm) - place.to_px(square.centre_mm);
      normal /= cv::norm(normal);
      const double slant =
          std::asin(std::min(std::abs(normal.x), std::abs(normal.y))) * 180 / std::numbers::pi;
      if (slant < kLeastSlantDegrees) continue;
      const double along = kAlongMm * place.px_per_mm;
      const double across = std::max(kAcrossMm * place.px_per_mm, kAcrossPx);
      std::vector<Pixel> pixels;
      for (int y = 0; y < part.light.rows; ++y) {
        const auto* row = part.light.ptr<cv::Vec3f>(y);
        for (int x = 0; x < part.light.cols; ++x) {
          const cv::Point2d off = cv::Point2d(part.px.x + x, part.px.y + y) - edge;
          const double s = off.dot(normal), t = normal.cross(off);
          if (std::abs(s) > across || std::abs(t) > along) continue;
          pixels.push_back({s, t, static_cast<double>(row[x][0] + row[x][1] + row[x][2]) / 3});
        }
      }
      if (const auto sigma = fit_edge(pixels)) {
        sigmas[std::abs(normal.x) > std::abs(normal.y) ? 0 : 1].push_back(*sigma / place.px_per_mm);
      }
    }
  }
  if (sigmas[0].size() < 2 || sigmas[1].size() < 2) {
    throw Error(ExitCode::scan, fmt::format("{}: the turned squares at the foot of the scanner's "
                                            "card have no clear edges; uncover them, or print the "
                                            "card anew.",
                                            file));
  }
  PointSpread spread;
  std::tie(spread.x_mm, spread.u_x_mm) = summarise(sigmas[0]);
  std::tie(spread.y_mm, spread.u_y_mm) = summarise(sigmas[1]);
  return spread;
}

}  // namespace inkwane::scanner
