#include "align/features.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <Eigen/Dense>
#include <opencv2/calib3d.hpp>
#include <opencv2/features2d.hpp>
#include <opencv2/imgproc.hpp>

#include "align/structure.hpp"

namespace inkwane::align {
namespace {

/// Longer side of the picture that features are sought in. At this size an A4 page has cells of
/// 0.4 mm: a few hundred features at a cost of a fraction of a second (own trials).
constexpr int kCoarseSide = 720;
/// Features kept, and the cells of the lattice they are spread over.
constexpr int kMostFeatures = 1800;
constexpr int kBuckets = 12;
/// A match must be nearer than this share of the distance to the next one (Lowe, International
/// Journal of Computer Vision 60(2), 2004, section 7.1).
constexpr float kRatio = 0.8F;

/// The strongest features of every part of the picture, in a fixed order.
std::vector<cv::KeyPoint> spread_out(std::vector<cv::KeyPoint> found, cv::Size size) {
  std::sort(found.begin(), found.end(), [](const cv::KeyPoint& a, const cv::KeyPoint& b) {
    return std::tie(b.response, a.pt.y, a.pt.x, a.angle, a.size) <
           std::tie(a.response, b.pt.y, b.pt.x, b.angle, b.size);
  });
  std::map<int, int> taken;
  std::vector<cv::KeyPoint> kept;
  for (const auto& feature : found) {
    const int column = static_cast<int>(feature.pt.x) * kBuckets / size.width;
    const int row = static_cast<int>(feature.pt.y) * kBuckets / size.height;
    if (++taken[row * kBuckets + column] <= 3 * kMostFeatures / (kBuckets * kBuckets))
      kept.push_back(feature);
  }
  if (kept.size() > kMostFeatures) kept.resize(kMostFeatures);
  return kept;
}

}  // namespace

Features find_features(const cv::Mat& structure, const cv::Mat& mask) {
  const cv::Rect sheet = cv::boundingRect(mask);
  Features features;
  if (sheet.empty()) return features;
  const int factor =
      std::max(1, (std::max(sheet.width, sheet.height) + kCoarseSide - 1) / kCoarseSide);
  const Level level = reduce(structure(sheet), mask(sheet), factor);
  // A window of 12 coarse cells is wider than SIFT's own descriptors of small features, so that it
  // evens out colour without erasing shape.
  const Signal signal = normalise(level, 0, 12, std::max(0.01, 2 * noise_of(level)));

  cv::Mat grey, on;
  signal.value.convertTo(grey, CV_8U, 40, 128);
  cv::threshold(signal.weight, on, 0.99, 255, cv::THRESH_BINARY);
  on.convertTo(on, CV_8U);
  // The rim of the sheet belongs half to its backing.
  cv::erode(on, on, cv::getStructuringElement(cv::MORPH_RECT, {5, 5}), {-1, -1}, 1,
            cv::BORDER_CONSTANT, cv::Scalar(255));

  const auto sift = cv::SIFT::create(0, 3, 0.03, 10, 1.6);
  std::vector<cv::KeyPoint> found;
  sift->detect(grey, found, on);
  found = spread_out(std::move(found), grey.size());
  sift->compute(grey, found, features.descriptors);
  for (const auto& feature : found) {
    features.place.emplace_back(sheet.x + (static_cast<double>(feature.pt.x) + 0.5) * factor - 0.5,
                                sheet.y + (static_cast<double>(feature.pt.y) + 0.5) * factor - 0.5);
  }
  return features;
}

std::vector<Match> match_features(const Features& first, const Features& second) {
  std::vector<Match> matches;
  if (first.descriptors.rows < 2 || second.descriptors.rows < 2) return matches;
  const cv::BFMatcher matcher(cv::NORM_L2);
  std::vector<std::vector<cv::DMatch>> there, back;
  matcher.knnMatch(first.descriptors, second.descriptors, there, 2);
  matcher.knnMatch(second.descriptors, first.descriptors, back, 1);
  for (const auto& candidates : there) {
    const cv::DMatch& best = candidates[0];
    if (best.distance > kRatio * candidates[1].distance) continue;
    if (back[static_cast<std::size_t>(best.trainIdx)][0].trainIdx != best.queryIdx) continue;
    matches.push_back({first.place[static_cast<std::size_t>(best.queryIdx)],
                       second.place[static_cast<std::size_t>(best.trainIdx)]});
  }
  return matches;
}

std::optional<Affine> fit_affine(const std::vector<Match>& matches, double tolerance, int least) {
  if (static_cast<int>(matches.size()) < std::max(least, 4)) return std::nullopt;
  std::vector<cv::Point2f> from, to;
  for (const auto& match : matches) {
    from.emplace_back(match.first);
    to.emplace_back(match.second);
  }
  std::vector<uchar> inlier;
  // OpenCV seeds the generator of this function itself: the same matches give the same map.
  const cv::Mat found =
      cv::estimateAffine2D(from, to, inlier, cv::RANSAC, tolerance, 10000, 0.9999, 0);
  if (found.empty()) return std::nullopt;

  // Two rounds of least squares over all that agree.
  Affine result;
  result.map = cv::Matx23d(found.ptr<double>());
  std::vector<cv::Point2f> agreeing;
  for (int round = 0; round < 3; ++round) {
    std::vector<Match> agree;
    agreeing.clear();
    for (const auto& match : matches) {
      if (cv::norm(apply(result.map, match.first) - match.second) > tolerance) continue;
      agree.push_back(match);
      agreeing.emplace_back(match.first);
    }
    result.inliers = static_cast<int>(agree.size());
    if (result.inliers < least) return std::nullopt;
    if (const auto better = least_squares_affine(agree)) result.map = *better;
  }
  std::vector<cv::Point2f> hull;
  cv::convexHull(agreeing, hull);
  result.spread = cv::contourArea(hull);
  return result;
}

cv::Matx23d inverse(const cv::Matx23d& map) {
  const cv::Matx22d back = linear(map).inv();
  return {back(0, 0), back(0, 1), -(back(0, 0) * map(0, 2) + back(0, 1) * map(1, 2)),
          back(1, 0), back(1, 1), -(back(1, 0) * map(0, 2) + back(1, 1) * map(1, 2))};
}

cv::Matx23d compose(const cv::Matx23d& outer, const cv::Matx23d& inner) {
  const cv::Matx22d product = linear(outer) * linear(inner);
  const cv::Point2d shift = apply(outer, {inner(0, 2), inner(1, 2)});
  return {product(0, 0), product(0, 1), shift.x, product(1, 0), product(1, 1), shift.y};
}

std::optional<cv::Matx23d> least_squares_affine(const std::vector<Match>& matches) {
  if (matches.size() < 3) return std::nullopt;
  // Centred, so that the normal equations stay well conditioned far from the origin.
  cv::Point2d centre;
  for (const auto& match : matches) centre += match.first;
  centre *= 1.0 / static_cast<double>(matches.size());
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Matrix<double, 3, 2> right = Eigen::Matrix<double, 3, 2>::Zero();
  for (const auto& match : matches) {
    const Eigen::Vector3d v(match.first.x - centre.x, match.first.y - centre.y, 1);
    normal += v * v.transpose();
    right += v * Eigen::RowVector2d(match.second.x, match.second.y);
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> shape(normal.topLeftCorner<2, 2>());
  // On a line: the narrow axis of the places is less than a thousandth of the long one.
  if (shape.eigenvalues()(0) <= 1e-6 * shape.eigenvalues()(1)) return std::nullopt;
  const Eigen::Matrix<double, 3, 2> s = normal.ldlt().solve(right);
  return cv::Matx23d(s(0, 0), s(1, 0), s(2, 0) - s(0, 0) * centre.x - s(1, 0) * centre.y,  //
                     s(0, 1), s(1, 1), s(2, 1) - s(0, 1) * centre.x - s(1, 1) * centre.y);
}

}  // namespace inkwane::align
