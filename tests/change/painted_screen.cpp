#include "tests/change/painted_screen.hpp"

#include <cmath>
#include <numbers>
#include <random>

#include <opencv2/imgproc.hpp>

namespace inkwane::test {
namespace {

constexpr int kFine = 8;  // places a pixel, each way

double reflectance_of(double ks) {
  return 1 + ks - std::sqrt(ks * ks + 2 * ks);
}
double ks_of(double r) {
  return (1 - r) * (1 - r) / (2 * r);
}

/// Share of a cell that a dot of this "radius" covers is found by counting; the radius is sought.
bool in_dot(bool lozenge, double x, double y, double radius) {
  return lozenge ? std::abs(x) + std::abs(y) < radius : std::hypot(x, y) < radius;
}

double radius_for(const PaintedScreen& screen) {
  double low = 0, high = 1.2;
  for (int i = 0; i < 30; ++i) {
    const double middle = (low + high) / 2;
    int inside = 0;
    constexpr int kPlaces = 200;
    for (int a = 0; a < kPlaces; ++a) {
      for (int b = 0; b < kPlaces; ++b) {
        inside +=
            in_dot(screen.lozenge, (a + 0.5) / kPlaces - 0.5, (b + 0.5) / kPlaces - 0.5, middle);
      }
    }
    (inside < screen.coverage * kPlaces * kPlaces ? low : high) = middle;
  }
  return (low + high) / 2;
}

cv::Mat dots(const PaintedScreen& screen, double pitch_mm, int side) {
  const double period = 25.4 / screen.lpi, radius = radius_for(screen);
  const double c = std::cos(screen.degrees * std::numbers::pi / 180) / period,
               s = std::sin(screen.degrees * std::numbers::pi / 180) / period;
  cv::Mat mask(side, side, CV_32FC1);
  for (int j = 0; j < side; ++j) {
    for (int i = 0; i < side; ++i) {
      const double u = (c * i + s * j) * pitch_mm, v = (-s * i + c * j) * pitch_mm;
      mask.at<float>(j, i) =
          in_dot(screen.lozenge, u - std::round(u), v - std::round(v), radius) ? 1.0F : 0.0F;
    }
  }
  return mask;
}

}  // namespace

change::RegionPixels region_of(const cv::Mat& picture) {
  change::RegionPixels result;
  picture.convertTo(result.sharp, CV_32FC3);
  result.weight.create(picture.size(), CV_32FC1);
  for (int j = 0; j < picture.rows; ++j) {
    for (int i = 0; i < picture.cols; ++i) {
      const double d = std::min({i, j, picture.cols - 1 - i, picture.rows - 1 - j}),
                   full = 0.25 * std::min(picture.cols, picture.rows);
      result.weight.at<float>(j, i) =
          static_cast<float>(0.5 - 0.5 * std::cos(std::numbers::pi * std::min(1.0, d / full)));
    }
  }
  return result;
}

change::RegionPixels paint_screens(const ScreenPainting& p) {
  const int fine = p.side_px * kFine;
  const double pitch_mm = 25.4 / p.dpi / kFine;
  std::vector<cv::Mat> in, out;
  for (const PaintedScreen& screen : p.screens) {
    in.push_back(dots(screen, pitch_mm, fine));
    out.emplace_back();
    cv::GaussianBlur(in.back(), out.back(), {}, p.spread_mm / pitch_mm);
  }
  std::vector<cv::Mat> planes;
  for (int c = 0; c < 3; ++c) {
    const double between = p.paper[c] * (1 - p.stain);
    // One-way transmission of every overprint, by the law.
    std::vector<double> passed;
    for (unsigned set = 0; set < (1U << p.screens.size()); ++set) {
      double ks = 0, film = 1;
      for (std::size_t j = 0; j < p.screens.size(); ++j) {
        if (((set >> j) & 1U) == 0) continue;
        const double full = p.screens[j].ks[c];
        ks += p.kept * full;
        film *= std::pow(reflectance_of(ks_of(p.paper[c]) + full) / p.paper[c], p.kept);
      }
      passed.push_back(std::sqrt(p.film ? film : reflectance_of(ks_of(between) + ks) / between));
    }
    cv::Mat plane(fine, fine, CV_32FC1);
    for (int y = 0; y < fine; ++y) {
      for (int x = 0; x < fine; ++x) {
        double inward = 0, outward = 0;
        for (unsigned set = 0; set < passed.size(); ++set) {
          double w_in = passed[set], w_out = passed[set];
          for (std::size_t j = 0; j < in.size(); ++j) {
            const auto m = static_cast<double>(in[j].at<float>(y, x)),
                       s = static_cast<double>(out[j].at<float>(y, x));
            const bool has = ((set >> j) & 1U) != 0;
            w_in *= has ? m : 1 - m;
            w_out *= has ? s : 1 - s;
          }
          inward += w_in;
          outward += w_out;
        }
        plane.at<float>(y, x) = static_cast<float>(between * inward * outward);
      }
    }
    cv::GaussianBlur(plane, plane, {}, p.blur_px * kFine);
    planes.emplace_back();
    cv::resize(plane, planes.back(), {p.side_px, p.side_px}, 0, 0, cv::INTER_AREA);
  }
  cv::Mat picture;
  cv::merge(planes, picture);
  std::mt19937 random(p.seed);
  std::normal_distribution<float> normal;
  cv::Mat fibres(p.side_px, p.side_px, CV_32FC1);
  for (int j = 0; j < fibres.rows; ++j) {
    for (int i = 0; i < fibres.cols; ++i) fibres.at<float>(j, i) = normal(random);
  }
  constexpr double kFibrePx = 2;
  cv::GaussianBlur(fibres, fibres, {}, kFibrePx);
  // White noise blurred by σ keeps 1 / (2 σ √π) of its deviation.
  fibres *= p.texture * 2 * kFibrePx * std::sqrt(std::numbers::pi);
  for (int j = 0; j < picture.rows; ++j) {
    for (int i = 0; i < picture.cols; ++i) {
      auto& v = picture.at<cv::Vec3f>(j, i);
      for (int c = 0; c < 3; ++c) {
        v[c] = v[c] * (1 + fibres.at<float>(j, i)) + static_cast<float>(p.noise) * normal(random);
      }
    }
  }
  return region_of(picture);
}

}  // namespace inkwane::test
