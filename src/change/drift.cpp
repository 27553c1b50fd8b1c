#include "change/drift.hpp"

#include "change/colour_space.hpp"

namespace inkwane::change {
namespace {

constexpr double kLagMm = 1.0;  // beyond the aperture, so that two cells share no noise
constexpr int kStride = 5;
/// From the median absolute deviation to the standard deviation of a normal distribution.
constexpr double kOfMad = 1.4826;
constexpr std::size_t kEnough = 200;
/// Two cells lie on one flat tone if they differ by less than this.
constexpr double kFlat = 0.05, kFlatFloor = 0.005;

double median_absolute(std::vector<float>& values) {
  for (float& v : values) v = std::abs(v);
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return static_cast<double>(*middle);
}

Eigen::Vector3d sharp_at(const cv::Mat& xyz, int row, int column) {
  const auto& v = xyz.at<cv::Vec3f>(row, column);
  return sharpening() * Eigen::Vector3d(static_cast<double>(v[0]), static_cast<double>(v[1]),
                                        static_cast<double>(v[2]));
}

/// Differences of the stages' difference over the lag: what varies slowly, true change included,
/// cancels; what is left is noise, in three classes of reflectance.
CellNoise cell_noise(const SideInput& side, const Layer& a, const Layer& b) {
  const int lag = std::max(1, static_cast<int>(std::lround(kLagMm / side.geometry.pitch_mm)));
  std::array<std::vector<float>, 3> off, level;
  for (int y = 0; y < side.geometry.rows; y += kStride) {
    for (int x = 0; x + lag < side.geometry.columns; x += kStride) {
      if ((a.valid.at<uchar>(y, x) & b.valid.at<uchar>(y, x) & a.valid.at<uchar>(y, x + lag) &
           b.valid.at<uchar>(y, x + lag)) == 0)
        continue;
      const Eigen::Vector3d a0 = sharp_at(a.xyz, y, x), a1 = sharp_at(a.xyz, y, x + lag);
      const Eigen::Vector3d d = sharp_at(b.xyz, y, x) - a0 - sharp_at(b.xyz, y, x + lag) + a1;
      if (!std::isfinite(d.sum())) continue;
      const Eigen::Vector3d between = sharp_at(a.xyz, y, x + lag / 2);
      for (int c = 0; c < 3; ++c) {
        // Edges of the print tell of alignment, not of noise.
        const double flat = kFlat * a0[c] + kFlatFloor;
        if (std::abs(a1[c] - a0[c]) > flat || std::abs(between[c] - a0[c]) > flat) continue;
        const double r = 0.5 * (a0[c] + a1[c]);
        const std::size_t bin = r < 0.15 ? 0 : r < 0.4 ? 1 : 2;
        off[bin].push_back(static_cast<float>(d[c] / std::sqrt(2.0)));
        level[bin].push_back(static_cast<float>(r));
      }
    }
  }
  // σ² against r² through the classes that hold enough.
  double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0;
  for (std::size_t bin = 0; bin < 3; ++bin) {
    if (off[bin].size() < kEnough) continue;
    const double sigma = kOfMad * median_absolute(off[bin]);
    const double r = median_absolute(level[bin]);
    n += 1, sx += r * r, sy += sigma * sigma, sxx += r * r * r * r, sxy += r * r * sigma * sigma;
  }
  CellNoise noise;
  if (n == 0) return noise;
  const double spread = n * sxx - sx * sx;
  double slope2 = spread > 1e-6 ? (n * sxy - sx * sy) / spread : sy / sx;
  double floor2 = (sy - slope2 * sx) / n;
  if (slope2 < 0) slope2 = 0, floor2 = sy / n;
  if (floor2 < 0) floor2 = 0, slope2 = sy / sx;
  noise.floor = static_cast<float>(std::sqrt(floor2));
  noise.slope = static_cast<float>(std::sqrt(slope2));
  return noise;
}

Eigen::Matrix3d place_to_place(const PaperSurvey& paper, int from, int to) {
  const cv::Mat& a = paper.stages[static_cast<std::size_t>(from)].xyz;
  const cv::Mat& b = paper.stages[static_cast<std::size_t>(to)].xyz;
  std::array<std::vector<float>, 6>
      off;  // log ratios of R, G, B, then their differences R−G, G−B, B−R
  for (int y = 0; y < a.rows; ++y) {
    for (int x = 0; x < a.cols; ++x) {
      const Eigen::Vector3d p = sharp_at(a, y, x), q = sharp_at(b, y, x);
      if ((p.array() <= 0).any() || (q.array() <= 0).any()) continue;
      const Eigen::Vector3d ratio = (q.array() / p.array()).log();
      for (int c = 0; c < 3; ++c) {
        off[static_cast<std::size_t>(c)].push_back(static_cast<float>(ratio[c]));
        off[static_cast<std::size_t>(c + 3)].push_back(
            static_cast<float>(ratio[c] - ratio[(c + 1) % 3]));
      }
    }
  }
  std::array<double, 6> variance{};
  for (std::size_t i = 0; i < 6; ++i) {
    if (off[i].size() < 8) return Eigen::Matrix3d::Zero();
    const auto middle = off[i].begin() + static_cast<std::ptrdiff_t>(off[i].size() / 2);
    std::nth_element(off[i].begin(), middle, off[i].end());
    const float median = *middle;
    for (float& v : off[i]) v -= median;
    variance[i] = std::pow(kOfMad * median_absolute(off[i]), 2);
  }
  // Robust covariances from variances of sums and differences (Gnanadesikan & Kettenring 1972).
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
  for (int c = 0; c < 3; ++c) {
    const int d = (c + 1) % 3;
    const double u = variance[static_cast<std::size_t>(c)],
                 v = variance[static_cast<std::size_t>(d)];
    covariance(c, c) = u;
    const double bound = std::sqrt(u * v);
    covariance(c, d) = covariance(d, c) =
        std::clamp(0.5 * (u + v - variance[static_cast<std::size_t>(c + 3)]), -bound, bound);
  }
  return covariance;
}

}  // namespace

Drift measure_drift(const SideInput& side, const PaperSurvey& paper, int from, int to) {
  Drift drift;
  drift.noise = cell_noise(side, side.layers[static_cast<std::size_t>(from)],
                           side.layers[static_cast<std::size_t>(to)]);
  if (paper.found) drift.place = place_to_place(paper, from, to);
  return drift;
}

}  // namespace inkwane::change
