#include "target/point_spread.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "scanner/edge_step.hpp"
#include "target/overshoot.hpp"

namespace inkwane::target {
namespace {

constexpr double kAlong = 0.6;          // of a patch's side: away from its corners
constexpr double kReachOfSide = 0.075;  // across an edge, either way: patches lie about 0.15 apart
constexpr double kMostReachPx = 14, kLeastReachPx = 3;
constexpr double kLeastStep = 0.08;  // of linear light: less is not worth fitting
constexpr std::size_t kLeastEdges = 8;

/// Mean without the outer tenths, and its standard error.
std::pair<double, double> trimmed_mean(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const auto cut = static_cast<std::ptrdiff_t>(values.size() / 10);
  const auto n = static_cast<double>(values.size()) - 2 * static_cast<double>(cut);
  double sum = 0, squares = 0;
  for (auto v = values.begin() + cut; v != values.end() - cut; ++v) sum += *v, squares += *v * *v;
  const double mean = sum / n;
  return {mean, std::sqrt(std::max(0.0, squares / n - mean * mean) / n)};
}

/// Edges of all patches, sorted by the scan's axis that they cut.
class Edges {
 public:
  Edges(const scan::Scan& scan, const ScanColour& colour, const Located& located)
      : located_(located), side_(located.patch_px / kMeasuredShare) {
    const cv::Point2d origin(located.corners[0].x, located.corners[0].y);
    const cv::Point2d to(located.corners[1].x, located.corners[1].y);
    axes_[0] = (to - origin) / cv::norm(to - origin);
    axes_[1] = {-axes_[0].y, axes_[0].x};
    reach_ = std::clamp(kReachOfSide * side_, kLeastReachPx, kMostReachPx);
    cv::Rect2d bounds;
    for (const Point& p : located.centres) {
      const cv::Rect2d box(p.x - side_, p.y - side_, 2 * side_, 2 * side_);
      bounds = bounds.empty() ? box : (bounds | box);
    }
    window_ = cv::Rect(bounds) & cv::Rect(0, 0, scan.info().width_px, scan.info().height_px);
    colour.linearise(scan.read_window(window_), light_);
  }

  [[nodiscard]] std::optional<PointSpread> spread() const {
    std::array<std::vector<double>, 2> variances;
    for (std::size_t patch = 0; patch < located_.centres.size(); ++patch) {
      if (!located_.usable[patch]) continue;
      for (const cv::Point2d& outward : {axes_[0], -axes_[0], axes_[1], -axes_[1]}) {
        const auto variance =
            scanner::fit_step(edge(located_.centres[patch], outward), reach_, kLeastStep);
        if (!variance) continue;
        const std::size_t axis = std::abs(outward.x) > std::abs(outward.y) ? 0 : 1;
        variances[axis].push_back(*variance);
      }
    }
    PointSpread result;
    for (std::size_t axis = 0; axis < 2; ++axis) {
      if (variances[axis].size() < kLeastEdges) return std::nullopt;
      // How an edge falls on the pixels scatters the fits, evenly about the truth only in the mean.
      const auto [mean, u_mean] = trimmed_mean(variances[axis]);
      result.sigma_px[axis] = std::sqrt(std::max(0.0, mean));
      result.u_sigma_px =
          std::max(result.u_sigma_px, u_mean / (2 * std::max(result.sigma_px[axis], 0.1)));
    }
    return result;
  }

 private:
  /// Pixels about the edge of a patch on the side of `outward`.
  [[nodiscard]] scanner::Edge edge(const Point& centre, const cv::Point2d& outward) const {
    const cv::Point2d middle =
        cv::Point2d(centre.x - window_.x, centre.y - window_.y) + outward * (side_ / 2);
    return scanner::edge_about(light_, middle, outward, reach_, kAlong * side_ / 2);
  }

  const Located& located_;
  double side_, reach_ = 0;
  std::array<cv::Point2d, 2> axes_;
  cv::Rect window_;
  cv::Mat light_;
};

constexpr double kNeverSurer = 0.03;  // of σ, see pooled()

}  // namespace

PointSpread pooled(std::span<const PointSpread> scans) {
  constexpr double kLeastUPx = 1e-3;
  PointSpread result;
  double weights = 0;
  for (const PointSpread& scan : scans) {
    const double u = std::max(scan.u_sigma_px, kLeastUPx), weight = 1 / (u * u);
    for (std::size_t axis = 0; axis < 2; ++axis)
      result.sigma_px[axis] += weight * scan.sigma_px[axis];
    result.overshoot += weight * scan.overshoot;
    weights += weight;
  }
  for (double& sigma : result.sigma_px) sigma /= weights;
  result.overshoot /= weights;
  result.u_sigma_px = std::max(1 / std::sqrt(weights),
                               kNeverSurer * std::max(result.sigma_px[0], result.sigma_px[1]));
  return result;
}

std::optional<PointSpread> measure_point_spread(const scan::Scan& scan, const ScanColour& colour,
                                                const Located& located) {
  auto result = Edges(scan, colour, located).spread();
  if (result) result->overshoot = edge_overshoot(scan, located);
  return result;
}

}  // namespace inkwane::target
