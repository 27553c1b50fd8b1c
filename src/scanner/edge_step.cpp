#include "scanner/edge_step.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Dense>

namespace inkwane::scanner {
namespace {

constexpr int kRounds = 25;
constexpr double kLeastLogSigma = -3;  // 0.05 px: sharper edges are as good as perfect

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

}  // namespace

Edge edge_about(const cv::Mat& light, cv::Point2d middle, cv::Point2d outward, double reach,
                double half) {
  const cv::Point2d beside(-outward.y, outward.x);
  const double x = std::abs(outward.x) * reach + std::abs(beside.x) * half,
               y = std::abs(outward.y) * reach + std::abs(beside.y) * half;
  Edge result;
  for (int j = std::max(0, cvCeil(middle.y - y));
       j <= std::min(light.rows - 1, cvFloor(middle.y + y)); ++j) {
    for (int i = std::max(0, cvCeil(middle.x - x));
         i <= std::min(light.cols - 1, cvFloor(middle.x + x)); ++i) {
      const cv::Point2d d = cv::Point2d(i, j) - middle;
      const double across = d.dot(outward), along = d.dot(beside);
      if (std::abs(across) > reach || std::abs(along) > half) continue;
      const auto& rgb = light.at<cv::Vec3f>(j, i);
      result.across.push_back(across);
      result.along.push_back(along / half);
      result.light.push_back(static_cast<double>(rgb[0] + rgb[1] + rgb[2]) / 3);
    }
  }
  return result;
}

std::optional<double> fit_step(const Edge& edge, double reach, double least_step) {
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
  if (std::abs(high - low) < least_step) return std::nullopt;

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

}  // namespace inkwane::scanner
