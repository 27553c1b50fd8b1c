#include "scanner/edge.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "scanner/edge_step.hpp"

namespace inkwane::scanner {
namespace {

/// Of each edge, this much of its length about its middle, and this far to both sides.
constexpr double kAlongMm = 3, kAcrossMm = 0.9, kAcrossPx = 5;
/// An edge along the rows or columns of pixels shows each line the same phase, so its width cannot
/// be told: it must cross them by at least this.
constexpr double kLeastSlantDegrees = 2;
constexpr double kLeastMm = 0.001;
constexpr double kLeastStep = 0.2;  // of linear light: black print on bare paper has far more

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
      const cv::Point2d middle = edge - cv::Point2d(part.px.tl());
      const auto variance =
          fit_step(edge_about(part.light, middle, normal, across, along), across, kLeastStep);
      if (!variance) continue;
      sigmas[std::abs(normal.x) > std::abs(normal.y) ? 0 : 1].push_back(std::sqrt(*variance) /
                                                                        place.px_per_mm);
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
