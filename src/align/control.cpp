#include "align/control.hpp"

#include <cmath>

#include <Eigen/Dense>

namespace inkwane::align {
namespace {

/// Positive definite in the plane, twice continuously differentiable, 0 from r = 1 on.
double wendland(double r) {
  if (r >= 1) return 0;
  const double s = (1 - r) * (1 - r);
  return s * s * (4 * r + 1);
}

}  // namespace

cv::Matx23d map_through(const std::vector<Match>& pairs, double scale) {
  if (const auto affine = least_squares_affine(pairs)) return *affine;
  const Match& a = pairs.front();
  double c = scale, s = 0;
  if (pairs.size() > 1) {
    // As complex numbers the linear part of a similarity is the quotient of the two chords.
    const cv::Point2d from = pairs.back().first - a.first, to = pairs.back().second - a.second;
    const double square = from.dot(from);
    if (square > 0) {
      c = from.dot(to) / square;
      s = from.cross(to) / square;
    }
  }
  return {c, -s, a.second.x - c * a.first.x + s * a.first.y,  //
          s, c,  a.second.y - s * a.first.x - c * a.first.y};
}

cv::Mat interpolate(const std::vector<cv::Point2d>& places, const std::vector<cv::Point2d>& shifts,
                    double reach, cv::Size size, int block) {
  const auto n = static_cast<Eigen::Index>(places.size());
  Eigen::MatrixXd kernel(n, n);
  Eigen::MatrixX2d right(n, 2);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& p = places[static_cast<std::size_t>(i)];
    right.row(i) << shifts[static_cast<std::size_t>(i)].x, shifts[static_cast<std::size_t>(i)].y;
    for (Eigen::Index j = 0; j < n; ++j) {
      kernel(i, j) = wendland(cv::norm(p - places[static_cast<std::size_t>(j)]) / reach);
    }
  }
  const Eigen::MatrixX2d weights = kernel.ldlt().solve(right);

  cv::Mat field(size, CV_32FC2, cv::Scalar(0, 0));
  cv::parallel_for_({0, size.height}, [&](const cv::Range& rows) {
    for (int row = rows.start; row < rows.end; ++row) {
      const double y = (row + 0.5) * block - 0.5;
      for (int column = 0; column < size.width; ++column) {
        const double x = (column + 0.5) * block - 0.5;
        double u = 0, v = 0;
        for (Eigen::Index i = 0; i < n; ++i) {
          const auto& p = places[static_cast<std::size_t>(i)];
          const double k = wendland(std::hypot(x - p.x, y - p.y) / reach);
          u += k * weights(i, 0);
          v += k * weights(i, 1);
        }
        field.at<cv::Vec2f>(row, column) = {static_cast<float>(u), static_cast<float>(v)};
      }
    }
  });
  return field;
}

}  // namespace inkwane::align
