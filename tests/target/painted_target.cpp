#include "painted_target.hpp"

#include <cmath>
#include <numbers>
#include <random>

#include <Eigen/LU>

#include "colour/srgb.hpp"
#include "target/metric.hpp"

namespace inkwane::test {
namespace {

cv::Vec3d encoded_srgb(const LabD50& lab) {
  const Eigen::Vector3d linear =
      colour::srgb_to_xyz_d50().inverse() * target::vector_of(to_xyz(lab));
  cv::Vec3d encoded;
  for (int c = 0; c < 3; ++c) {
    encoded[c] = colour::linear_to_srgb(std::clamp(linear[c], 0.0, 1.0));
  }
  return encoded;
}

/// The target's own axes, x along a row.
struct Axes {
  cv::Point2d origin, x, y;
  explicit Axes(const Painting& p) : origin(p.first) {
    const double a = p.degrees * std::numbers::pi / 180;
    x = {std::cos(a), std::sin(a)};
    y = {-std::sin(a), std::cos(a)};
    if (p.mirrored) x = -x;
  }
  [[nodiscard]] cv::Point2d to_picture(double u, double v) const { return origin + u * x + v * y; }
};

cv::Size2d extent(const target::Reference& r, const Painting& p) {
  return {r.columns * (p.patch + p.gap) - p.gap, r.rows * (p.patch + p.gap) - p.gap};
}

std::array<cv::Point2d, 4> around(const target::Reference& r, const Painting& p, double margin) {
  const Axes axes(p);
  const cv::Size2d e = extent(r, p);
  return {axes.to_picture(-margin, -margin), axes.to_picture(e.width + margin, -margin),
          axes.to_picture(e.width + margin, e.height + margin),
          axes.to_picture(-margin, e.height + margin)};
}

}  // namespace

cv::Mat paint(const target::Reference& reference, const Painting& p) {
  std::vector<cv::Vec3d> colours;
  for (const auto& patch : reference.patches) colours.push_back(p.cast(encoded_srgb(patch.lab)));
  const Axes axes(p);
  const cv::Size2d e = extent(reference, p);
  const auto colour_at = [&](const cv::Point2d& at) -> cv::Vec3d {
    for (const auto& [where, colour] : p.covers) {
      if (at.x >= where.x && at.y >= where.y && at.x < where.x + where.width &&
          at.y < where.y + where.height) {
        return colour;
      }
    }
    const cv::Point2d d = at - axes.origin;
    const double u = d.dot(axes.x), v = d.dot(axes.y);
    if (u >= 0 && v >= 0 && u < e.width && v < e.height) {
      const int column = static_cast<int>(u / (p.patch + p.gap));
      const int row = static_cast<int>(v / (p.patch + p.gap));
      if (u - column * (p.patch + p.gap) < p.patch && v - row * (p.patch + p.gap) < p.patch) {
        return colours[static_cast<std::size_t>(row) * reference.columns + column];
      }
    }
    if (u >= -p.border && v >= -p.border && u < e.width + p.border && v < e.height + p.border) {
      return p.card;
    }
    for (const auto& [where, colour] : p.sheet) {
      if (at.x >= where.x && at.y >= where.y && at.x < where.x + where.width &&
          at.y < where.y + where.height) {
        return colour;
      }
    }
    return p.backing;
  };

  std::mt19937 random(12);
  std::normal_distribution<double> noise(0, p.noise);
  constexpr int kSub = 3;  // a pixel is the mean of 3 × 3 places
  cv::Mat picture(p.size, CV_16UC3);
  for (int y = 0; y < picture.rows; ++y) {
    for (int x = 0; x < picture.cols; ++x) {
      cv::Vec3d sum(0, 0, 0);
      for (int k = 0; k < kSub * kSub; ++k) {
        sum += colour_at({x + (k % kSub + 0.5) / kSub - 0.5, y + (k / kSub + 0.5) / kSub - 0.5});
      }
      for (int c = 0; c < 3; ++c) {
        const double value = sum[c] / (kSub * kSub) + noise(random);
        picture.at<cv::Vec3w>(y, x)[c] =
            static_cast<std::uint16_t>(std::lround(65535 * std::clamp(value, 0.0, 1.0)));
      }
    }
  }
  return picture;
}

std::array<cv::Point2d, 4> true_corners(const target::Reference& reference,
                                        const Painting& painting) {
  return around(reference, painting, 0);
}

std::vector<cv::Point2d> true_card(const target::Reference& reference, const Painting& painting) {
  const auto corners = around(reference, painting, painting.border);
  return {corners.begin(), corners.end()};
}

}  // namespace inkwane::test
