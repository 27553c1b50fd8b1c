#include "finding/ridge.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <queue>

#include <opencv2/imgproc.hpp>

namespace inkwane::finding {
namespace {

/// Σ over all scales of what a ridge is: its height as the scale sees it, on its crest only.
struct Crests {
  cv::Mat on;      // CV_8UC1
  cv::Mat strong;  // CV_8UC1
};

/// A Gaussian ridge of height A and width s answers −σ² ∂²g / ∂x² = A σ² s / (s² + σ²)^1.5, which
/// is A / 2.83 where the widths agree.
constexpr double kAnswer = 2.83;

cv::Mat shifted_value(const cv::Mat& picture, const cv::Mat& dx, const cv::Mat& dy, float sign) {
  cv::Mat map(picture.size(), CV_32FC2), out;
  for (int y = 0; y < picture.rows; ++y) {
    for (int x = 0; x < picture.cols; ++x) {
      map.at<cv::Vec2f>(y, x) = {static_cast<float>(x) + sign * dx.at<float>(y, x),
                                 static_cast<float>(y) + sign * dy.at<float>(y, x)};
    }
  }
  cv::remap(picture, out, map, {}, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  return out;
}

/// True where an edge runs along a crest of this normal: much change across it, little along it.
bool along_edge(const cv::Vec3f& edges, float nx, float ny) {
  const float across = edges[0] * nx * nx + edges[1] * ny * ny + 2 * edges[2] * nx * ny;
  const float along = edges[0] * ny * ny + edges[1] * nx * nx - 2 * edges[2] * nx * ny;
  return across > 1 && across > 2 * along;
}

void add_scale(const cv::Mat& height, const cv::Mat& edges, double scale, const RidgeSearch& search,
               Crests& crests) {
  cv::Mat smooth, xx, yy, xy;
  cv::GaussianBlur(height, smooth, {}, scale, scale, cv::BORDER_REPLICATE);
  cv::Sobel(smooth, xx, CV_32F, 2, 0, 3, 0.25);
  cv::Sobel(smooth, yy, CV_32F, 0, 2, 3, 0.25);
  cv::Sobel(smooth, xy, CV_32F, 1, 1, 3, 0.25);
  cv::Mat dx(height.size(), CV_32FC1, cv::Scalar(0)), dy = dx.clone(), ridge = dx.clone();
  const auto factor = static_cast<float>(scale * scale * kAnswer);
  for (int y = 0; y < height.rows; ++y) {
    for (int x = 0; x < height.cols; ++x) {
      const float a = xx.at<float>(y, x), b = yy.at<float>(y, x), c = xy.at<float>(y, x);
      const float half = (a - b) / 2, root = std::sqrt(half * half + c * c);
      const float across = (a + b) / 2 - root, along = (a + b) / 2 + root;
      // A blob curves both ways; a ridge across it only.
      if (across >= 0 || std::abs(along) > -across / 2) continue;
      const float angle = 0.5F * std::atan2(2 * c, a - b) + std::numbers::pi_v<float> / 2;
      const float nx = std::cos(angle), ny = std::sin(angle);
      if (along_edge(edges.at<cv::Vec3f>(y, x), nx, ny)) continue;
      ridge.at<float>(y, x) = -across * factor;
      dx.at<float>(y, x) = nx;
      dy.at<float>(y, x) = ny;
    }
  }
  const cv::Mat ahead = shifted_value(smooth, dx, dy, 1),
                behind = shifted_value(smooth, dx, dy, -1);
  const cv::Mat crest = (smooth >= ahead) & (smooth >= behind) & (ridge >= search.low);
  crests.on |= crest;
  crests.strong |= crest & (ridge >= search.high);
}

/// Pixels of one piece, by what lies next to what.
class Piece {
 public:
  explicit Piece(std::vector<cv::Point> pixels, cv::Rect bounds)
      : pixels_(std::move(pixels)),
        bounds_(bounds),
        number_(bounds.size(), CV_32SC1, cv::Scalar(-1)) {
    for (std::size_t i = 0; i < pixels_.size(); ++i)
      number_.at<int>(pixels_[i] - bounds_.tl()) = static_cast<int>(i);
  }

  /// The longest of the shortest ways from pixel to pixel: twice breadth first.
  [[nodiscard]] std::vector<cv::Point> spine() const {
    std::vector<int> before;
    const int end = furthest(0, before), other = furthest(end, before);
    std::vector<cv::Point> line;
    for (int at = other; at >= 0; at = before[static_cast<std::size_t>(at)])
      line.push_back(pixels_[static_cast<std::size_t>(at)]);
    return line;
  }

 private:
  std::vector<cv::Point> pixels_;
  cv::Rect bounds_;
  cv::Mat number_;

  int furthest(int from, std::vector<int>& before) const {
    before.assign(pixels_.size(), -1);
    std::vector<char> seen(pixels_.size(), 0);
    std::queue<int> next;
    next.push(from);
    seen[static_cast<std::size_t>(from)] = 1;
    int last = from;
    while (!next.empty()) {
      last = next.front();
      next.pop();
      for (const cv::Point step :
           {cv::Point(1, 0), cv::Point(-1, 0), cv::Point(0, 1), cv::Point(0, -1), cv::Point(1, 1),
            cv::Point(1, -1), cv::Point(-1, 1), cv::Point(-1, -1)}) {
        const cv::Point at = pixels_[static_cast<std::size_t>(last)] - bounds_.tl() + step;
        if (!cv::Rect({}, bounds_.size()).contains(at)) continue;
        const int n = number_.at<int>(at);
        if (n < 0 || seen[static_cast<std::size_t>(n)] != 0) continue;
        seen[static_cast<std::size_t>(n)] = 1;
        before[static_cast<std::size_t>(n)] = last;
        next.push(n);
      }
    }
    return last;
  }
};

/// Without the steps of the pixels.
Crest smoothed(const std::vector<cv::Point>& line) {
  constexpr int kReach = 4;
  Crest out;
  const int n = static_cast<int>(line.size());
  for (int i = 0; i < n; i += 2) {
    const int reach = std::min({kReach, i, n - 1 - i});
    cv::Point2f sum(0, 0);
    for (int k = i - reach; k <= i + reach; ++k)
      sum += cv::Point2f(line[static_cast<std::size_t>(k)]);
    out.push_back(sum / static_cast<float>(2 * reach + 1));
  }
  return out;
}

/// Where a line heads at its end, over its last few points.
cv::Point2f heading(const Crest& crest) {
  const std::size_t back = std::min<std::size_t>(6, crest.size() - 1);
  const cv::Point2f d = crest.back() - crest[crest.size() - 1 - back];
  return d / std::max(1e-6, cv::norm(d));
}

/// Joins the two if the end of one goes on in the beginning of the other, either way round.
bool join(Crest& a, Crest& b, double gap) {
  constexpr float kOnward = 0.75F;  // cosine, 41°
  for (int turn_a = 0; turn_a < 2; ++turn_a) {
    for (int turn_b = 0; turn_b < 2; ++turn_b) {
      const cv::Point2f step = b.front() - a.back();
      const double length = cv::norm(step);
      Crest back(b.rbegin(), b.rend());
      const cv::Point2f out = heading(a), in = -heading(back);
      const bool onward = length < 1.5 || (out.dot(step) > kOnward * static_cast<float>(length) &&
                                           in.dot(step) > kOnward * static_cast<float>(length));
      if (length <= gap && onward && out.dot(in) > 0) {
        a.insert(a.end(), b.begin(), b.end());
        return true;
      }
      std::reverse(b.begin(), b.end());
    }
    std::reverse(a.begin(), a.end());
  }
  return false;
}

}  // namespace

double length_of(const Crest& crest) {
  double length = 0;
  for (std::size_t i = 1; i < crest.size(); ++i) length += cv::norm(crest[i] - crest[i - 1]);
  return length;
}

std::vector<Crest> find_crests(const cv::Mat& height, const cv::Mat& edges,
                               const RidgeSearch& search) {
  Crests crests{cv::Mat(height.size(), CV_8UC1, cv::Scalar(0)), {}};
  crests.strong = crests.on.clone();
  for (const double scale : search.scales_px) add_scale(height, edges, scale, search, crests);
  // Crests of two scales run side by side.
  cv::morphologyEx(crests.on, crests.on, cv::MORPH_CLOSE, cv::Mat::ones(3, 3, CV_8UC1));

  cv::Mat labels, stats, centroids;
  const int count =
      cv::connectedComponentsWithStats(crests.on, labels, stats, centroids, 8, CV_32S);
  std::vector<Crest> pieces;
  for (int i = 1; i < count; ++i) {
    const cv::Rect bounds(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                          stats.at<int>(i, cv::CC_STAT_WIDTH),
                          stats.at<int>(i, cv::CC_STAT_HEIGHT));
    if (std::hypot(bounds.width, bounds.height) < search.least_px) continue;
    const cv::Mat inside = labels(bounds) == i;
    std::vector<cv::Point> pixels;
    cv::findNonZero(inside, pixels);
    for (cv::Point& p : pixels) p += bounds.tl();
    const std::vector<cv::Point> line = Piece(std::move(pixels), bounds).spine();
    const auto strong = std::count_if(line.begin(), line.end(), [&](const cv::Point& p) {
      return crests.strong.at<uchar>(p) != 0;
    });
    if (4 * static_cast<std::size_t>(strong) < line.size()) continue;
    Crest crest = smoothed(line);
    if (crest.size() > 3 && length_of(crest) >= search.least_px) pieces.push_back(std::move(crest));
  }
  for (bool joined = true; joined;) {
    joined = false;
    for (std::size_t i = 0; i < pieces.size() && !joined; ++i) {
      for (std::size_t j = i + 1; j < pieces.size() && !joined; ++j) {
        joined = join(pieces[i], pieces[j], search.bridged_px);
        if (joined) pieces.erase(pieces.begin() + static_cast<std::ptrdiff_t>(j));
      }
    }
  }
  return pieces;
}

}  // namespace inkwane::finding
