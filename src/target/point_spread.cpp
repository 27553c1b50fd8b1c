#include "target/point_spread.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include <Eigen/Dense>

#include "target/overshoot.hpp"

namespace inkwane::target {
namespace {

constexpr double kAlong = 0.6;          // of a patch's side: away from its corners
constexpr double kReachOfSide = 0.075;  // across an edge, either way: patches lie about 0.15 apart
constexpr double kMostReachPx = 14, kLeastReachPx = 3;
constexpr double kLeastStep = 0.08;  // of linear light: less is not worth fitting
constexpr std::size_t kLeastEdges = 8;
constexpr int kRounds = 25;
constexpr double kLeastLogSigma = -3;  // 0.05 px: sharper edges are as good as perfect

/// Pixels beside one edge: how far along and across it they lie, and their light.
struct Edge {
  std::vector<double> along, across, light;
};

/// A step blurred by a Gaussian and averaged over pixels of width 1, of height 1.
struct Blurred {
  double share = 0, by_place = 0, by_sigma = 0;
};

/// ∫ Φ((x + t) / σ) dt over −½ … ½.
Blurred blurred_step(double x, double sigma) {
  const auto cdf = [](double z) { return 0.5 * std::erfc(-z / std::numbers::sqrt2); };
  const auto pdf = [](double z) {
    return std::exp(-0.5 * z * z) / std::sqrt(2 * std::numbers::pi);
  };
  const double high = (x + 0.5) / sigma, low = (x - 0.5) / sigma;
  const double by_place = cdf(high) - cdf(low), by_sigma = pdf(high) - pdf(low);
  return {sigma * (high * cdf(high) - low * cdf(low) + by_sigma), by_place, by_sigma};
}

/// Variance of the blur, px².
std::optional<double> fit_step(const Edge& edge, double reach) {
  const auto n = static_cast<Eigen::Index>(edge.light.size());
  if (n < 20) return std::nullopt;
  double ends[2] = {0, 0};
  int counts[2] = {0, 0};
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    if (std::abs(edge.across[k]) < 0.6 * reach) continue;
    const int side = edge.across[k] > 0 ? 1 : 0;
    ends[side] += edge.light[k];
    ++counts[side];
  }
  if (counts[0] < 5 || counts[1] < 5) return std::nullopt;
  const double low = ends[0] / counts[0], high = ends[1] / counts[1];
  if (std::abs(high - low) < kLeastStep) return std::nullopt;

  Eigen::Matrix<double, 5, 1> p;  // low, step, offset, tilt, ln s
  p << low, high - low, 0, 0, std::log(0.4);
  Eigen::MatrixXd jacobian(n, 5);
  Eigen::VectorXd rest(n);
  for (int round = 0; round < kRounds; ++round) {
    const double s = std::exp(p[4]);
    for (Eigen::Index i = 0; i < n; ++i) {
      const auto k = static_cast<std::size_t>(i);
      const Blurred b = blurred_step(edge.across[k] - p[2] - p[3] * edge.along[k], s);
      rest[i] = edge.light[k] - p[0] - p[1] * b.share;
      jacobian.row(i) << 1, b.share, -p[1] * b.by_place, -p[1] * b.by_place * edge.along[k],
          p[1] * b.by_sigma * s;
    }
    const Eigen::Matrix<double, 5, 1> step = jacobian.colPivHouseholderQr().solve(rest);
    if (!step.allFinite()) return std::nullopt;
    p += step.cwiseMax(-0.7).cwiseMin(0.7);
    p[4] = std::max(p[4], kLeastLogSigma);
    if (step.cwiseAbs().maxCoeff() < 1e-6) break;
  }
  const double s = std::exp(p[4]);
  if (!p.allFinite() || s > reach / 2 || std::abs(p[2]) > reach / 2) return std::nullopt;
  return s * s;
}

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
        const auto variance = fit_step(edge(located_.centres[patch], outward), reach_);
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
  /// Pixels about the edge of a patch on the side of `outward`, the sum of their channels.
  [[nodiscard]] Edge edge(const Point& centre, const cv::Point2d& outward) const {
    const cv::Point2d middle =
        cv::Point2d(centre.x - window_.x, centre.y - window_.y) + outward * (side_ / 2);
    const cv::Point2d beside(-outward.y, outward.x);
    const double half = kAlong * side_ / 2;
    const double x = std::abs(outward.x) * reach_ + std::abs(beside.x) * half,
                 y = std::abs(outward.y) * reach_ + std::abs(beside.y) * half;
    Edge result;
    for (int j = std::max(0, cvCeil(middle.y - y));
         j <= std::min(light_.rows - 1, cvFloor(middle.y + y)); ++j) {
      for (int i = std::max(0, cvCeil(middle.x - x));
           i <= std::min(light_.cols - 1, cvFloor(middle.x + x)); ++i) {
        const cv::Point2d d = cv::Point2d(i, j) - middle;
        const double across = d.dot(outward), along = d.dot(beside);
        if (std::abs(across) > reach_ || std::abs(along) > half) continue;
        const auto& rgb = light_.at<cv::Vec3f>(j, i);
        result.across.push_back(across);
        result.along.push_back(along / half);
        result.light.push_back(static_cast<double>(rgb[0] + rgb[1] + rgb[2]) / 3);
      }
    }
    return result;
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
