#include "align/quad.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include <inkwane/colour.hpp>

#include "align/agreement.hpp"

namespace inkwane::align {
namespace {

/// Share of an edge at either end that may be rounded, torn or dog-eared.
constexpr double kCornerShare = 0.08;

/// A dip of lightness (0–1) deeper than this beside the paper is its shadow.
constexpr double kShadow = 0.02;

struct Line {
  cv::Point2d point, along;  ///< along: unit vector
};

/// Straight line through most of the points: least squares repeated without the far ones.
std::optional<Line> fit_line(std::vector<cv::Point2f> points) {
  for (int round = 0; round < 4; ++round) {
    if (points.size() < 8) return std::nullopt;
    cv::Vec4f v;
    cv::fitLine(points, v, cv::DIST_HUBER, 0, 0.01, 0.001);
    const cv::Point2d along(static_cast<double>(v[0]), static_cast<double>(v[1]));
    const cv::Point2d point(static_cast<double>(v[2]), static_cast<double>(v[3]));
    if (round == 3) return Line{point, along};
    std::vector<double> off;
    for (const auto& p : points) off.push_back(std::abs(along.cross(cv::Point2d(p) - point)));
    // Three standard deviations, from the median of absolute deviations; half a cell is never far.
    const double limit = std::max(0.5, 3 * 1.4826 * quantile(off, 0.5));
    std::vector<cv::Point2f> near;
    for (std::size_t i = 0; i < points.size(); ++i) {
      if (off[i] <= limit) near.push_back(points[i]);
    }
    points = std::move(near);
  }
  return std::nullopt;
}

std::optional<cv::Point2d> crossing(const Line& a, const Line& b) {
  const double sine = a.along.cross(b.along);
  if (std::abs(sine) < 0.5) return std::nullopt;
  return a.point + a.along * ((b.point - a.point).cross(b.along) / sine);
}

/// Edge i runs from corner i to i + 1; edges 0 to 3 are top, right, bottom, left.
std::optional<Quad> from_edges(const std::array<std::optional<Line>, 4>& edges) {
  Quad quad;
  for (std::size_t i = 0; i < 4; ++i) {
    const auto& before = edges[(i + 3) % 4];
    if (!before || !edges[i]) return std::nullopt;
    const auto corner = crossing(*before, *edges[i]);
    if (!corner) return std::nullopt;
    quad[i] = *corner;
  }
  return quad;
}

/// Unit vector into the sheet, across edge i.
cv::Point2d inwards(const Quad& quad, std::size_t i) {
  const cv::Point2d along = quad[(i + 1) % 4] - quad[i];
  const double length = cv::norm(along);
  return {-along.y / length, along.x / length};
}

/// Places on edge i, a millimetre or less apart, away from its ends.
std::vector<cv::Point2d> places_on(const Quad& quad, std::size_t i, double pitch_mm) {
  const cv::Point2d from = quad[i], to = quad[(i + 1) % 4];
  const int count = std::max(24, static_cast<int>(cv::norm(to - from) * pitch_mm));
  std::vector<cv::Point2d> places;
  for (int k = 0; k < count; ++k) {
    const double t = kCornerShare + (1 - 2 * kCornerShare) * (k + 0.5) / count;
    places.push_back(from + (to - from) * t);
  }
  return places;
}

template <typename Value>
std::optional<Value> sample(const cv::Mat& picture, cv::Point2d p) {
  const int column = static_cast<int>(std::floor(p.x)), row = static_cast<int>(std::floor(p.y));
  if (column < 0 || row < 0 || column + 1 >= picture.cols || row + 1 >= picture.rows)
    return std::nullopt;
  const auto fx = static_cast<float>(p.x - column), fy = static_cast<float>(p.y - row);
  return (picture.at<Value>(row, column) * (1 - fx) + picture.at<Value>(row, column + 1) * fx) *
             (1 - fy) +
         (picture.at<Value>(row + 1, column) * (1 - fx) +
          picture.at<Value>(row + 1, column + 1) * fx) *
             fy;
}

/// Where paper passes into a shadow that is darker than both the paper and the backing.
std::optional<double> shadow_on_profile(const grid::Grid& grid, cv::Point2d place, cv::Point2d in) {
  const double mm = 1 / grid.geometry.pitch_mm, step = 0.05;
  const auto lightness = [&](double s) {
    return sample<float>(grid.structure, place + in * (s * mm));
  };
  std::vector<double> paper;
  for (double s = 1.0; s <= 1.8; s += 0.1) {
    if (const auto v = lightness(s)) paper.push_back(static_cast<double>(*v));
  }
  if (paper.size() < 6) return std::nullopt;
  const double inside = quantile(paper, 0.5);
  double darkest = inside, at = 0, outside = 0;
  for (double s = 1.0; s >= -1.2; s -= step) {
    const auto v = lightness(s);
    if (!v) return std::nullopt;
    if (static_cast<double>(*v) < darkest) {
      darkest = static_cast<double>(*v);
      at = s;
      outside = 0;
    }
    outside = std::max(outside, static_cast<double>(*v));
  }
  if (std::min(inside, outside) - darkest < kShadow) return std::nullopt;
  const double middle = (inside + darkest) / 2;
  for (double s = at; s <= 1.0; s += step) {
    const auto v = lightness(s);
    if (v && static_cast<double>(*v) >= middle) return s * mm;
  }
  return std::nullopt;
}

/// Where along the profile from inside to outside the light leaves the paper's by half; in cells
/// from `place`, positive inwards.
std::optional<double> edge_on_profile(const grid::Grid& grid, cv::Point2d place, cv::Point2d in) {
  const double mm = 1 / grid.geometry.pitch_mm;
  std::vector<double> reference[3];
  for (double s = 1.0; s <= 1.8; s += 0.1) {
    const auto v = sample<cv::Vec3f>(grid.xyz, place + in * (s * mm));
    if (!v) return std::nullopt;
    for (int c = 0; c < 3; ++c) reference[c].push_back(static_cast<double>((*v)[c]));
  }
  const cv::Vec3d paper(quantile(reference[0], 0.5), quantile(reference[1], 0.5),
                        quantile(reference[2], 0.5));
  const auto off = [&](double s) -> std::optional<double> {
    const auto v = sample<cv::Vec3f>(grid.xyz, place + in * (s * mm));
    if (!v) return std::nullopt;
    return cv::norm(cv::Vec3d(*v) - paper);
  };
  if (const auto shadow = shadow_on_profile(grid, place, in)) return shadow;
  // The overview is off by a millimetre at most: what lies within that outside is backing.
  double most = 0;
  for (double s = -0.2; s >= -1.2; s -= 0.1) {
    const auto d = off(s);
    if (!d) break;
    most = std::max(most, *d);
  }
  // Less than a hundredth of full light is no edge.
  if (!(most > 0.01)) return std::nullopt;
  const double step = 0.05;
  double before = 0;
  for (double s = 1.0; s >= -1.2; s -= step) {
    const auto d = off(s);
    if (!d) return std::nullopt;
    if (*d >= most / 2) return (s + step * (*d - most / 2) / std::max(*d - before, 1e-9)) * mm;
    before = *d;
  }
  return std::nullopt;
}

}  // namespace

std::optional<Quad> fit_quad(const cv::Mat& mask) {
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(mask, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  if (contours.empty()) return std::nullopt;
  const auto& contour =
      *std::max_element(contours.begin(), contours.end(),
                        [](const auto& a, const auto& b) { return a.size() < b.size(); });
  if (contour.size() < 60) return std::nullopt;
  const cv::RotatedRect box = cv::minAreaRect(contour);
  cv::Point2f loose[4];
  box.points(loose);
  // In the order top left, top right, bottom right, bottom left: clockwise from the least x + y.
  std::size_t first = 0;
  for (std::size_t i = 1; i < 4; ++i) {
    if (loose[i].x + loose[i].y < loose[first].x + loose[first].y) first = i;
  }
  Quad rough;
  for (std::size_t i = 0; i < 4; ++i) rough[i] = cv::Point2d(loose[(first + i) % 4]);
  if ((rough[1] - rough[0]).cross(rough[2] - rough[1]) < 0) std::swap(rough[1], rough[3]);

  // Each point of the border goes to the edge of the box it is nearest to, unless near a corner.
  std::array<std::vector<cv::Point2f>, 4> sides;
  for (const cv::Point p : contour) {
    std::size_t best = 0;
    double least = 1e9, along_best = 0;
    for (std::size_t i = 0; i < 4; ++i) {
      const cv::Point2d edge = rough[(i + 1) % 4] - rough[i];
      const cv::Point2d d = cv::Point2d(p) - rough[i];
      const double off = std::abs(edge.cross(d)) / std::max(cv::norm(edge), 1.0);
      if (off < least) {
        least = off;
        best = i;
        along_best = edge.dot(d) / std::max(edge.dot(edge), 1.0);
      }
    }
    if (along_best > kCornerShare && along_best < 1 - kCornerShare) sides[best].emplace_back(p);
  }
  std::array<std::optional<Line>, 4> edges;
  for (std::size_t i = 0; i < 4; ++i) edges[i] = fit_line(sides[i]);
  auto quad = from_edges(edges);
  if (!quad) return std::nullopt;
  // The border's cells lie inside the mask: its edge is half a cell further out.
  return grown(*quad, 0.5);
}

double overlap(const cv::Mat& mask, const Quad& quad) {
  cv::Mat drawn(mask.size(), CV_8U, cv::Scalar(0));
  std::vector<cv::Point> corners;
  for (const auto& p : quad) corners.emplace_back(cvRound(p.x), cvRound(p.y));
  cv::fillConvexPoly(drawn, corners, cv::Scalar(255));
  const double both = cv::countNonZero(drawn & mask), any = cv::countNonZero(drawn | mask);
  return any > 0 ? both / any : 0;
}

Quad refine_quad(const Quad& quad, const grid::Grid& grid) {
  std::array<std::optional<Line>, 4> edges;
  for (std::size_t i = 0; i < 4; ++i) {
    const cv::Point2d in = inwards(quad, i);
    const cv::Point2d along = quad[(i + 1) % 4] - quad[i];
    const Line rough{quad[i], along / cv::norm(along)};
    std::vector<cv::Point2f> found;
    for (const auto& place : places_on(quad, i, grid.geometry.pitch_mm)) {
      if (const auto s = edge_on_profile(grid, place, in)) found.emplace_back(place + in * *s);
    }
    // An edge without enough places (on the frame's own edge) stays where the mask has it.
    edges[i] = found.size() >= 16 ? fit_line(found) : rough;
    if (!edges[i]) edges[i] = rough;
  }
  return from_edges(edges).value_or(quad);
}

std::array<EdgeLook, 4> look_across(const Quad& quad, const grid::Grid& grid) {
  const double mm = 1 / grid.geometry.pitch_mm;
  std::array<EdgeLook, 4> looks;
  for (std::size_t i = 0; i < 4; ++i) {
    const cv::Point2d in = inwards(quad, i);
    std::vector<double> depth;
    std::array<std::vector<double>, 3> inside, outside;
    for (const auto& place : places_on(quad, i, grid.geometry.pitch_mm)) {
      double darkest = 1, lightest_in = 0, lightest_out = 0;
      bool whole = true;
      for (double s = -2.4; s <= 2.4; s += 0.1) {
        const auto v = sample<float>(grid.structure, place + in * (s * mm));
        whole = whole && (v || s < -1.5);
        if (!v) continue;
        const auto lightness = static_cast<double>(*v);
        if (std::abs(s) <= 1.0) darkest = std::min(darkest, lightness);
        if (s > 1.0) lightest_in = std::max(lightest_in, lightness);
        if (s < -1.0) lightest_out = std::max(lightest_out, lightness);
      }
      if (!whole) continue;
      depth.push_back(std::min(lightest_in, lightest_out) - darkest);
      for (const double s : {1.2, 1.7, 2.2, -1.2, -1.4}) {
        const auto v = sample<cv::Vec3f>(grid.xyz, place + in * (s * mm));
        if (!v) continue;
        for (std::size_t c = 0; c < 3; ++c)
          (s > 0 ? inside : outside)[c].push_back(static_cast<double>((*v)[static_cast<int>(c)]));
      }
    }
    if (depth.size() < 12 || outside[0].empty() || inside[0].empty()) {
      looks[i].on_frame = true;
      continue;
    }
    looks[i].line_depth = quantile(depth, 0.4);
    const auto typical = [](const std::array<std::vector<double>, 3>& v) {
      return to_lab({quantile(v[0], 0.5), quantile(v[1], 0.5), quantile(v[2], 0.5)});
    };
    const LabD50 a = typical(inside), b = typical(outside);
    looks[i].step_dE = std::hypot(a.L - b.L, a.a - b.a, a.b - b.b);
  }
  return looks;
}

Quad grown(const Quad& quad, double by) {
  std::array<std::optional<Line>, 4> edges;
  for (std::size_t i = 0; i < 4; ++i) {
    const cv::Point2d along = quad[(i + 1) % 4] - quad[i];
    edges[i] = Line{quad[i] - inwards(quad, i) * by, along / std::max(cv::norm(along), 1e-9)};
  }
  return from_edges(edges).value_or(quad);
}

}  // namespace inkwane::align
