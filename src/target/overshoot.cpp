#include "target/overshoot.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "target/median.hpp"

namespace inkwane::target {
namespace {

constexpr double kLeastStep = 0.12;  ///< of the encoded scale: smaller steps drown in noise
constexpr double kStridePx = 0.5;

/// Patches whose centres lie on the line through the first row.
int columns_of(const Located& located) {
  const cv::Point2d first(located.centres[0].x, located.centres[0].y),
      along = cv::Point2d(located.corners[1].x, located.corners[1].y) -
              cv::Point2d(located.corners[0].x, located.corners[0].y);
  const auto in_first_row = [&](const Point& p) {
    return std::abs((cv::Point2d(p.x, p.y) - first).cross(along)) / cv::norm(along) <
           located.patch_px / 2;
  };
  return static_cast<int>(
      std::count_if(located.centres.begin(), located.centres.end(), in_first_row));
}

/// Encoded values (0–1) from a patch's centre outwards, averaged over the patch's middle half.
class Profiles {
 public:
  Profiles(const scan::Scan& scan, const Located& located)
      : centres_(located.centres),
        columns_(columns_of(located)),
        rows_(static_cast<int>(centres_.size()) / columns_),
        half_(located.patch_px / 4) {
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

  [[nodiscard]] int rows() const { return rows_; }
  [[nodiscard]] int columns() const { return columns_; }

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
  int columns_, rows_;
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

double edge_overshoot(const scan::Scan& scan, const Located& located) {
  const Profiles profiles(scan, located);
  std::vector<double> found;
  for (int r = 0; r < profiles.rows(); ++r) {
    for (int c = 0; c < profiles.columns(); ++c) {
      for (const auto& [down, right] :
           {std::pair(0, 1), std::pair(0, -1), std::pair(1, 0), std::pair(-1, 0)}) {
        const auto value = overshoot(profiles.towards(r, c, down, right), profiles.flat());
        if (value) found.push_back(*value);
      }
    }
  }
  return found.size() < 8 ? 0 : median(found);
}

}  // namespace inkwane::target
