#include "target/blobs.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include <opencv2/imgproc.hpp>

namespace inkwane::target {
namespace {

constexpr double kLeastSide = 5;           // pixels: smaller places tell nothing of a shape
constexpr std::size_t kLeastOutline = 16;  // points about a place of that side
constexpr double kLargestShare = 0.3;      // of the picture's longer side
constexpr double kLeastFill = 0.80;        // of the smallest rectangle; a disc fills 0.785
constexpr double kMostAspect = 2.0;
/// Strengths of an edge, in encoded units a pixel: from a black patch on a dark card to a noisy
/// photograph.
constexpr double kEdges[] = {0.006, 0.012, 0.024, 0.048};
constexpr std::size_t kMostBlobs = 6000;

/// Largest change a pixel in any channel.
cv::Mat edge_strength(const cv::Mat& picture) {
  cv::Mat smooth;
  cv::GaussianBlur(picture, smooth, {}, 0.8);
  cv::Mat strength(picture.size(), CV_32FC1, cv::Scalar(0));
  cv::parallel_for_(cv::Range(1, picture.rows - 1), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {
      const auto* above = smooth.ptr<cv::Vec3f>(y - 1);
      const auto* here = smooth.ptr<cv::Vec3f>(y);
      const auto* below = smooth.ptr<cv::Vec3f>(y + 1);
      auto* out = strength.ptr<float>(y);
      for (int x = 1; x < picture.cols - 1; ++x) {
        float most = 0;
        for (int c = 0; c < 3; ++c) {
          const float dx = here[x + 1][c] - here[x - 1][c], dy = below[x][c] - above[x][c];
          most = std::max(most, dx * dx + dy * dy);
        }
        out[x] = std::sqrt(most) / 2;
      }
    }
  });
  return strength;
}

struct Candidate {
  Blob blob;
  double fill;
};

/// Keeps the best-filled of those that lie on each other.
std::vector<Blob> each_once(std::vector<Candidate> candidates) {
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const auto& a, const auto& b) { return a.fill > b.fill; });
  constexpr double kCell = 16;
  std::map<std::pair<int, int>, std::vector<int>> by_cell;
  std::vector<Blob> kept;
  for (const auto& [blob, fill] : candidates) {
    const int cx = static_cast<int>(blob.centre.x / kCell);
    const int cy = static_cast<int>(blob.centre.y / kCell);
    bool known = false;
    const int reach = static_cast<int>(std::ceil(0.25 * blob.side / kCell));
    for (int y = cy - reach; y <= cy + reach && !known; ++y) {
      for (int x = cx - reach; x <= cx + reach && !known; ++x) {
        const auto cell = by_cell.find({x, y});
        if (cell == by_cell.end()) continue;
        known = std::any_of(cell->second.begin(), cell->second.end(), [&](int k) {
          const double ratio = kept[k].side / blob.side;
          return cv::norm(kept[k].centre - blob.centre) < 0.25 * blob.side && ratio > 0.7 &&
                 ratio < 1.4;
        });
      }
    }
    if (known) continue;
    by_cell[{cx, cy}].push_back(static_cast<int>(kept.size()));
    kept.push_back(blob);
  }
  if (kept.size() > kMostBlobs) {
    std::stable_sort(kept.begin(), kept.end(),
                     [](const Blob& a, const Blob& b) { return a.side > b.side; });
    kept.resize(kMostBlobs);
  }
  return kept;
}

}  // namespace

std::vector<Blob> flat_blobs(const cv::Mat& picture) {
  const cv::Mat strength = edge_strength(picture);
  const double largest = kLargestShare * std::max(picture.cols, picture.rows);
  std::vector<Candidate> candidates;
  for (const double edge : kEdges) {
    cv::Mat flat;
    cv::compare(strength, edge, flat, cv::CMP_LT);
    std::vector<std::vector<cv::Point>> outlines;
    cv::findContours(flat, outlines, cv::RETR_LIST, cv::CHAIN_APPROX_NONE);
    for (const auto& outline : outlines) {
      if (outline.size() < kLeastOutline) continue;
      const double area = cv::contourArea(outline);
      if (area < kLeastSide * kLeastSide || area > largest * largest) continue;
      const cv::RotatedRect box = cv::minAreaRect(outline);
      const double width = static_cast<double>(box.size.width);
      const double height = static_cast<double>(box.size.height);
      const double fill = area / (width * height);
      if (fill < kLeastFill || std::max(width, height) > kMostAspect * std::min(width, height)) {
        continue;
      }
      candidates.push_back({{cv::Point2d(box.center), std::sqrt(width * height)}, fill});
    }
  }
  return each_once(std::move(candidates));
}

}  // namespace inkwane::target
