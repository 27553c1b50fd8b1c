#include "cli/vet_target.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <opencv2/imgproc.hpp>

#include "target/median.hpp"

namespace inkwane::cli {
namespace {

constexpr double kLeastStep = 0.12;  ///< of the encoded scale: smaller steps drown in noise
constexpr double kStridePx = 0.5;

/// Encoded values (0–1) from a patch's centre outwards, averaged over the patch's middle half.
class Profiles {
 public:
  Profiles(const scan::Scan& scan, const target::Located& located, int rows, int columns)
      : centres_(located.centres), rows_(rows), columns_(columns), half_(located.patch_px / 4) {
    double left = 1e9, top = 1e9, right = -1e9, bottom = -1e9;
    for (const Point& p : centres_) {
      left = std::min(left, p.x), right = std::max(right, p.x);
      top = std::min(top, p.y), bottom = std::max(bottom, p.y);
    }
    const double margin = 2 * located.patch_px;
    const cv::Rect all(0, 0, scan.info().width_px, scan.info().height_px);
    window_ =
        cv::Rect(cv::Point(static_cast<int>(left - margin), static_cast<int>(top - margin)),
                 cv::Point(static_cast<int>(right + margin), static_cast<int>(bottom + margin))) &
        all;
    scan.read_window(window_).convertTo(picture_, CV_32FC3, 1.0 / 65535);
  }

  /// From patch (row, column) towards its neighbour; empty where there is none.
  [[nodiscard]] std::vector<cv::Vec3f> towards(int row, int column, int down, int right) const {
    const int r = row + down, c = column + right;
    if (r < 0 || c < 0 || r >= rows_ || c >= columns_) return {};
    const cv::Point2d from = centre(row, column), way = centre(r, c) - from;
    const double length = cv::norm(way);
    const cv::Point2d step = way * (1 / length), aside(-step.y, step.x);
    const int wide = std::max(1, static_cast<int>(half_));
    // As far as three quarters of the way: past the edge, whether or not there is a gap.
    const int count = static_cast<int>(0.75 * length / kStridePx);
    cv::Mat map(2 * wide + 1, count, CV_32FC2), pixels;
    for (int a = -wide; a <= wide; ++a) {
      for (int i = 0; i < count; ++i) {
        const cv::Point2d at = from + step * (i * kStridePx) + aside * a;
        map.at<cv::Vec2f>(a + wide, i) = {static_cast<float>(at.x - window_.x),
                                          static_cast<float>(at.y - window_.y)};
      }
    }
    cv::remap(picture_, pixels, map, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
    cv::Mat mean;
    cv::reduce(pixels, mean, 0, cv::REDUCE_AVG);
    return {mean.begin<cv::Vec3f>(), mean.end<cv::Vec3f>()};
  }

  /// Samples that lie in the patch's flat part.
  [[nodiscard]] int flat() const {
    return std::max(2, static_cast<int>(2 * half_ / kStridePx * 0.7));
  }

 private:
  [[nodiscard]] cv::Point2d centre(int row, int column) const {
    const Point& p = centres_[static_cast<std::size_t>(row) * columns_ + column];
    return {p.x, p.y};
  }
  const std::vector<Point>& centres_;
  int rows_, columns_;
  double half_;
  cv::Rect window_;
  cv::Mat picture_;
};

/// How far a profile goes the wrong way before its edge, as a share of the step.
std::optional<double> overshoot(const std::vector<cv::Vec3f>& profile, int flat) {
  if (static_cast<int>(profile.size()) <= 2 * flat) return std::nullopt;
  std::optional<double> found;
  double largest_step = kLeastStep;
  for (int c = 0; c < 3; ++c) {
    double level = 0;
    for (int i = 0; i < flat; ++i) level += static_cast<double>(profile[i][c]) / flat;
    double squares = 0;
    for (int i = 0; i < flat; ++i) {
      const double off = static_cast<double>(profile[i][c]) - level;
      squares += off * off / flat;
    }
    const double noise = std::sqrt(squares);
    double far = level;
    for (const cv::Vec3f& v : profile) {
      if (std::abs(static_cast<double>(v[c]) - level) > std::abs(far - level))
        far = static_cast<double>(v[c]);
    }
    const double step = far - level;
    if (std::abs(step) <= largest_step) continue;
    largest_step = std::abs(step);
    // The largest of some dozen noisy values lies about two standard deviations out.
    double most = 0;
    for (const cv::Vec3f& v : profile) {
      const double along = (static_cast<double>(v[c]) - level) / step;
      if (along > 0.5) break;
      most = std::max(most, -along);
    }
    found = std::max(0.0, most - 2 * noise / std::abs(step));
  }
  return found;
}

}  // namespace

std::optional<double> edge_overshoot(const scan::Scan& scan, const target::Located& located,
                                     int rows, int columns) {
  const Profiles profiles(scan, located, rows, columns);
  std::vector<double> found;
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < columns; ++c) {
      for (const auto& [down, right] :
           {std::pair(0, 1), std::pair(0, -1), std::pair(1, 0), std::pair(-1, 0)}) {
        const auto value = overshoot(profiles.towards(r, c, down, right), profiles.flat());
        if (value) found.push_back(*value);
      }
    }
  }
  if (found.size() < 8) return std::nullopt;
  return target::median(found);
}

GreyRamp grey_ramp(const target::Reference& reference,
                   const std::vector<target::PatchReading>& readings) {
  constexpr double kNeutral = 5;          // C*ab below which a patch counts as grey
  constexpr double kLeastDarker = 3;      // L* by which the next must be darker to be told apart
  constexpr double kClippedShare = 0.02;  // of a patch's pixels
  GreyRamp ramp;
  std::vector<std::size_t> greys;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    if (readings[i].clipped > kClippedShare) ramp.clipped.push_back(reference.patches[i].id);
    if (chroma(reference.patches[i].lab) < kNeutral && readings[i].usable) greys.push_back(i);
  }
  std::sort(greys.begin(), greys.end(), [&](std::size_t a, std::size_t b) {
    return reference.patches[a].lab.L > reference.patches[b].lab.L;
  });
  ramp.patches = static_cast<int>(greys.size());
  for (std::size_t k = 0; k + 1 < greys.size(); ++k) {
    const std::size_t light = greys[k], dark = greys[k + 1];
    if (reference.patches[light].lab.L - reference.patches[dark].lab.L < kLeastDarker) continue;
    if (readings[light].linear.mean() <= readings[dark].linear.mean()) {
      ramp.reversed.push_back(reference.patches[light].id);
    }
  }
  return ramp;
}

}  // namespace inkwane::cli
