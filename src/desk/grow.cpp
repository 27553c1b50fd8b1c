#include "desk/grow.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <queue>

namespace inkwane::desk {
namespace {

/// The first colour is the mean of this many cells about the seed, either way.
constexpr int kSeedRadius = 1;

struct Candidate {
  double distance;
  int order;  // equals are taken as they came
  cv::Point cell;
  friend bool operator<(const Candidate& a, const Candidate& b) {
    return std::pair(a.distance, a.order) > std::pair(b.distance, b.order);
  }
};

double distance(const cv::Vec3f& a, const cv::Vec3d& b) {
  return cv::norm(cv::Vec3d(a) - b);
}

}  // namespace

cv::Mat grow(const cv::Mat& lab, cv::Point seed, double reach) {
  cv::Mat inside(lab.size(), CV_8UC1, cv::Scalar(0));
  const cv::Rect all({}, lab.size());
  if (!all.contains(seed) || std::isnan(lab.at<cv::Vec3f>(seed)[0])) return inside;

  cv::Vec3d sum;
  int count = 0;
  for (int j = -kSeedRadius; j <= kSeedRadius; ++j) {
    for (int i = -kSeedRadius; i <= kSeedRadius; ++i) {
      const cv::Point p = seed + cv::Point(i, j);
      if (!all.contains(p) || std::isnan(lab.at<cv::Vec3f>(p)[0])) continue;
      sum += cv::Vec3d(lab.at<cv::Vec3f>(p));
      ++count;
    }
  }
  std::priority_queue<Candidate> border;
  cv::Mat seen(lab.size(), CV_8UC1, cv::Scalar(0));
  seen.at<std::uint8_t>(seed) = 1;
  border.push({0, 0, seed});
  int order = 0;
  while (!border.empty()) {
    const Candidate next = border.top();
    border.pop();
    const auto& colour = lab.at<cv::Vec3f>(next.cell);
    // The mean has moved since the cell was put in line.
    if (next.cell != seed && distance(colour, sum / count) > reach) continue;
    inside.at<std::uint8_t>(next.cell) = 255;
    sum += cv::Vec3d(colour);
    ++count;
    const cv::Vec3d mean = sum / count;
    for (const cv::Point step : {cv::Point(1, 0), {-1, 0}, {0, 1}, {0, -1}}) {
      const cv::Point p = next.cell + step;
      if (!all.contains(p) || seen.at<std::uint8_t>(p) != 0) continue;
      const auto& other = lab.at<cv::Vec3f>(p);
      if (std::isnan(other[0]) || cv::norm(other - colour) > reach) continue;
      seen.at<std::uint8_t>(p) = 1;
      const double off = distance(other, mean);
      if (off <= reach) border.push({off, ++order, p});
    }
  }
  return inside;
}

}  // namespace inkwane::desk
