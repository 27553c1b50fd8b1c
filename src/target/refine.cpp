#include "target/refine.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

#include "target/lattice.hpp"
#include "target/median.hpp"

namespace inkwane::target {
namespace {

/// An edge of a patch must lie this far from its centre, in steps.
constexpr double kNearestEdge = 0.22, kFarthestEdge = 0.62;
constexpr double kHalfAlong = 0.22;   // the stretch of an edge that is averaged, in steps
constexpr double kLeastEdge = 0.015;  // encoded units across an edge
constexpr int kRounds = 3;

/// Bilinear; false outside the picture.
bool look(const cv::Mat& picture, const cv::Point2d& p, cv::Vec3d& colour) {
  const int x = static_cast<int>(std::floor(p.x)), y = static_cast<int>(std::floor(p.y));
  if (x < 0 || y < 0 || x + 1 >= picture.cols || y + 1 >= picture.rows) return false;
  const double fx = p.x - x, fy = p.y - y;
  const auto* upper = picture.ptr<cv::Vec3f>(y) + x;
  const auto* lower = picture.ptr<cv::Vec3f>(y + 1) + x;
  for (int c = 0; c < 3; ++c) {
    const double above = double(upper[0][c]) * (1 - fx) + double(upper[1][c]) * fx;
    const double below = double(lower[0][c]) * (1 - fx) + double(lower[1][c]) * fx;
    colour[c] = above * (1 - fy) + below * fy;
  }
  return true;
}

/// One edge as seen: a place in the picture, and of which side of which patch it is.
struct Edge {
  cv::Point2d at;
  bool upright = false;  ///< left or right side
  int index = 0;         ///< column if upright, else row
  int side = 1;          ///< −1 left or top, 1 right or bottom
  double distance = 0;   ///< from the patch's centre, in steps
};

std::optional<Edge> find_edge(const cv::Mat& picture, const cv::Matx33d& to_picture, int row,
                              int column, bool upright, int side) {
  const cv::Point2d centre(column, row);
  const cv::Point2d out = upright ? cv::Point2d(side, 0) : cv::Point2d(0, side);
  const cv::Point2d along = upright ? cv::Point2d(0, 1) : cv::Point2d(1, 0);
  const auto [u, v] = steps_at(to_picture, centre);
  const double pitch = cv::norm(upright ? u : v);
  const double step = 0.25 / pitch;  // a quarter of a pixel
  const int samples = static_cast<int>((kFarthestEdge - kNearestEdge) / step) + 1;
  const int across = std::max(5, static_cast<int>(2 * kHalfAlong * pitch));

  std::vector<cv::Vec3d> profile;
  for (int i = 0; i < samples; ++i) {
    cv::Vec3d sum(0, 0, 0);
    for (int k = 0; k < across; ++k) {
      const double t = kHalfAlong * (2.0 * k / (across - 1) - 1);
      cv::Vec3d colour;
      const cv::Point2d p = centre + out * (kNearestEdge + i * step) + along * t;
      if (!look(picture, project(to_picture, p), colour)) return std::nullopt;
      sum += colour;
    }
    profile.push_back(sum / across);
  }

  constexpr int kReach = 3;  // samples: slope over 1.5 pixels
  std::vector<double> slope(profile.size(), 0);
  double steepest = 0;
  for (std::size_t i = kReach; i + kReach < profile.size(); ++i) {
    slope[i] = cv::norm(profile[i + kReach] - profile[i - kReach]);
    steepest = std::max(steepest, slope[i]);
  }
  if (steepest < kLeastEdge) return std::nullopt;
  // The first clear edge from inside is the patch's own; the next patch's lies behind the gap.
  for (std::size_t i = kReach + 1; i + kReach + 1 < profile.size(); ++i) {
    if (slope[i] < 0.4 * steepest || slope[i] < slope[i - 1] || slope[i] < slope[i + 1]) continue;
    const double bend = slope[i - 1] - 2 * slope[i] + slope[i + 1];
    const double shift = bend < 0 ? 0.5 * (slope[i - 1] - slope[i + 1]) / bend : 0;
    Edge edge;
    edge.distance = kNearestEdge + (static_cast<double>(i) + shift) * step;
    edge.at = project(to_picture, centre + out * edge.distance);
    edge.upright = upright;
    edge.index = upright ? column : row;
    edge.side = side;
    return edge;
  }
  return std::nullopt;
}

std::vector<Edge> find_edges(const cv::Mat& picture, const cv::Matx33d& to_picture, int rows,
                             int columns) {
  std::vector<Edge> edges;
  for (const bool upright : {true, false}) {
    std::vector<Edge> found;
    std::vector<double> distances;
    for (int row = 0; row < rows; ++row) {
      for (int column = 0; column < columns; ++column) {
        for (const int side : {-1, 1}) {
          if (const auto e = find_edge(picture, to_picture, row, column, upright, side)) {
            found.push_back(*e);
            distances.push_back(e->distance);
          }
        }
      }
    }
    if (found.empty()) continue;
    const double usual = median(distances);
    for (const Edge& e : found) {
      if (std::abs(e.distance - usual) < 0.09) edges.push_back(e);
    }
  }
  return edges;
}

/// Least squares for the homography picture → patch coordinates and the patches' size, linear once
/// the projective denominator of the last round is put in.
std::optional<Place> fit_edges(const std::vector<Edge>& edges, const cv::Matx33d& to_picture) {
  cv::Point2d centre(0, 0);
  for (const Edge& e : edges) centre += e.at * (1.0 / static_cast<double>(edges.size()));
  double scale = 0;
  for (const Edge& e : edges) scale = std::max(scale, cv::norm(e.at - centre));
  const cv::Matx33d normalise(1 / scale, 0, -centre.x / scale, 0, 1 / scale, -centre.y / scale, 0,
                              0, 1);
  cv::Matx33d inverse = to_picture.inv() * normalise.inv();
  inverse *= 1 / inverse(2, 2);
  std::vector<bool> keep(edges.size(), true);
  Place place;
  for (int round = 0; round < 2 * kRounds; ++round) {
    Eigen::MatrixXd a = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(edges.size()), 10);
    Eigen::VectorXd b = Eigen::VectorXd::Zero(a.rows());
    int kept = 0;
    for (std::size_t i = 0; i < edges.size(); ++i) {
      if (!keep[i]) continue;
      ++kept;
      const Edge& e = edges[i];
      const double x = (e.at.x - centre.x) / scale, y = (e.at.y - centre.y) / scale;
      const double d = inverse(2, 0) * x + inverse(2, 1) * y + 1;
      const auto r = static_cast<Eigen::Index>(i);
      a.block<1, 3>(r, e.upright ? 0 : 3) << x / d, y / d, 1 / d;
      a(r, 6) = -e.index * x / d;
      a(r, 7) = -e.index * y / d;
      a(r, e.upright ? 8 : 9) = -0.5 * e.side;
      b[r] = e.index / d;
    }
    if (kept < 14) return std::nullopt;
    const Eigen::VectorXd p = a.colPivHouseholderQr().solve(b);
    inverse = cv::Matx33d(p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], 1);
    place.width = p[8];
    place.height = p[9];

    std::vector<double> off;
    std::vector<double> all(edges.size());
    for (std::size_t i = 0; i < edges.size(); ++i) {
      const Edge& e = edges[i];
      const cv::Point2d q =
          project(inverse, {(e.at.x - centre.x) / scale, (e.at.y - centre.y) / scale});
      const double size = e.upright ? place.width : place.height;
      all[i] = std::abs((e.upright ? q.x : q.y) - e.index - 0.5 * e.side * size);
      if (keep[i]) off.push_back(all[i]);
    }
    const double limit = 4 * median(off) + 0.002;  // about 2.7 standard deviations
    for (std::size_t i = 0; i < edges.size(); ++i) keep[i] = all[i] < limit;
  }
  place.to_picture = (inverse * normalise).inv();
  place.to_picture *= 1 / place.to_picture(2, 2);
  const bool sane =
      place.width > 0.4 && place.width < 1.1 && place.height > 0.4 && place.height < 1.1;
  return sane ? std::optional(place) : std::nullopt;
}

}  // namespace

std::vector<cv::Point2d> Place::corners(int rows, int columns, double margin) const {
  const double left = -width / 2 - margin, right = columns - 1 + width / 2 + margin;
  const double top = -height / 2 - margin, bottom = rows - 1 + height / 2 + margin;
  std::vector<cv::Point2d> result;
  for (const cv::Point2d& p :
       {cv::Point2d(left, top), {right, top}, {right, bottom}, {left, bottom}}) {
    result.push_back(project(to_picture, p));
  }
  return result;
}

std::optional<Place> refine(const cv::Mat& picture, const cv::Matx33d& to_picture, int rows,
                            int columns) {
  cv::Matx33d start = to_picture;
  std::optional<Place> place;
  for (int round = 0; round < kRounds; ++round) {
    const std::vector<Edge> edges = find_edges(picture, start, rows, columns);
    if (edges.size() < 14) return std::nullopt;
    place = fit_edges(edges, start);
    if (!place) return std::nullopt;
    start = place->to_picture;
  }
  return place;
}

std::vector<cv::Point2d> card_outline(const cv::Mat& picture, const Place& place, int rows,
                                      int columns) {
  constexpr int kSamples = 96;
  constexpr double kFarthest = 1.6;      // steps; wider borders are not told from a backing
  constexpr double kOtherColour = 0.05;  // encoded units: what lies around is not the border
  constexpr double kShadow = 0.06;       // steps added for the card's own shadow and blur
  const double w = place.width / 2, h = place.height / 2;
  const cv::Point2d top_left(-w, -h), top_right(columns - 1 + w, -h);
  const cv::Point2d bottom_right(columns - 1 + w, rows - 1 + h), bottom_left(-w, rows - 1 + h);

  // The border's width on one side: lines parallel to the patches, outward, until they change.
  const auto border = [&](const cv::Point2d& from, const cv::Point2d& to, const cv::Point2d& out) {
    const auto [u, v] = steps_at(place.to_picture, (from + to) * 0.5);
    const double pixel = 1 / cv::norm(out.x != 0 ? u : v);
    const auto line = [&](double distance, cv::Vec3d& colour) {
      std::array<std::vector<double>, 3> values;
      for (int i = 0; i < kSamples; ++i) {
        cv::Vec3d seen;
        const cv::Point2d p = from + (to - from) * (double(i) / (kSamples - 1)) + out * distance;
        if (!look(picture, project(place.to_picture, p), seen)) continue;
        for (int c = 0; c < 3; ++c) values[c].push_back(seen[c]);
      }
      if (values[0].size() < kSamples / 2) return false;  // the frame ends here
      for (int c = 0; c < 3; ++c) colour[c] = median(values[c]);
      return true;
    };
    cv::Vec3d own;
    const double first = 2.5 * pixel;  // beyond the blur of the patches' edge
    if (!line(first, own)) return 0.5;
    int changed = 0;
    for (double d = first; d < kFarthest; d += pixel) {
      cv::Vec3d here;
      if (!line(d, here)) return d;
      changed = cv::norm(here - own, cv::NORM_INF) > kOtherColour ? changed + 1 : 0;
      if (changed == 3) return d - 2 * pixel + kShadow;
    }
    return 0.5;
  };
  const double top = border(top_left, top_right, {0, -1});
  const double right = border(top_right, bottom_right, {1, 0});
  const double bottom = border(bottom_left, bottom_right, {0, 1});
  const double left = border(top_left, bottom_left, {-1, 0});
  std::vector<cv::Point2d> outline;
  for (const cv::Point2d& p :
       {top_left + cv::Point2d(-left, -top), top_right + cv::Point2d(right, -top),
        bottom_right + cv::Point2d(right, bottom), bottom_left + cv::Point2d(-left, bottom)}) {
    outline.push_back(project(place.to_picture, p));
  }
  return outline;
}

}  // namespace inkwane::target
