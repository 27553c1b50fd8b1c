#include "change/show_through.hpp"

#include <algorithm>
#include <limits>

#include <opencv2/imgproc.hpp>

#include "change/colour_space.hpp"

namespace inkwane::change {
namespace {

constexpr std::array<double, 4> kSpreadsMm{0.25, 0.5, 1.0, 1.5};  // of light in paper
/// How far a dye spreads on its way through, so that its halo still has its source behind it.
constexpr double kDiffusionMm = 1.2;
constexpr float kClearBehind = 0.03F;  // absorption behind a place that counts as nothing
constexpr std::size_t kEnough = 200;   // blocks

/// For each block of this side, the block of the other that lies behind it.
cv::Mat blocks_behind(const SideInput& side, const cv::Mat& to_other, const Coarse& own,
                      const Coarse& behind) {
  cv::Mat map(own.values.size(), CV_32FC2);
  for (int y = 0; y < map.rows; ++y) {
    for (int x = 0; x < map.cols; ++x) {
      const int row = std::min(y * own.block + own.block / 2, side.geometry.rows - 1),
                column = std::min(x * own.block + own.block / 2, side.geometry.columns - 1);
      const auto& there = to_other.at<cv::Vec2f>(row, column);
      map.at<cv::Point2f>(y, x) = std::isnan(there[0] + there[1])
                                      ? cv::Point2f(-1e6F, -1e6F)
                                      : behind.to_block(there[0], there[1]);
    }
  }
  return map;
}

cv::Mat blurred(const cv::Mat& values, double sigma) {
  cv::Mat result;
  cv::GaussianBlur(values, result, {}, sigma, sigma, cv::BORDER_REPLICATE);
  return result;
}

cv::Mat behind_of(const cv::Mat& values, const cv::Mat& map) {
  cv::Mat result;
  cv::remap(values, result, map, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_CONSTANT,
            cv::Scalar::all(0));
  return result;
}

/// Absorption 1 − R / R_paper, not below zero.
cv::Mat absorbed(const cv::Mat& relative) {
  cv::Mat result = cv::Scalar::all(1) - relative;
  return cv::max(result, 0.0);
}

struct Line {
  double slope = 0, scatter = std::numeric_limits<double>::max();
};

/// y = slope x + constant, least squares with outliers (this side's own print that passed for
/// paper, foxing) left out in two further rounds beyond 2.5 standard deviations.
Line fit_line(const std::vector<float>& x, const std::vector<float>& y) {
  Line line;
  double constant = 0;
  for (int round = 0; round < 3; ++round) {
    double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, rest = 0;
    const double limit = round == 0 ? std::numeric_limits<double>::max() : 2.5 * line.scatter;
    for (std::size_t i = 0; i < x.size(); ++i) {
      const auto u = static_cast<double>(x[i]), v = static_cast<double>(y[i]);
      if (std::abs(v - line.slope * u - constant) > limit) continue;
      n += 1, sx += u, sy += v, sxx += u * u, sxy += u * v;
    }
    const double spread = n * sxx - sx * sx;
    if (n < static_cast<double>(kEnough) || spread <= 1e-9 * n * n) return {0, line.scatter};
    line.slope = (n * sxy - sx * sy) / spread;
    constant = (sy - line.slope * sx) / n;
    for (std::size_t i = 0; i < x.size(); ++i) {
      const double off =
          static_cast<double>(y[i]) - line.slope * static_cast<double>(x[i]) - constant;
      if (std::abs(off) <= limit) rest += off * off;
    }
    line.scatter = std::sqrt(rest / n);
  }
  line.slope = std::max(0.0, line.slope);
  return line;
}

/// Blocks of this side all of whose cells are bare paper.
cv::Mat bare_blocks(const PaperSurvey& paper, const Coarse& own) {
  cv::Mat bare(own.values.size(), CV_8UC1, cv::Scalar(0));
  for (int y = 0; y < bare.rows; ++y) {
    for (int x = 0; x < bare.cols; ++x) {
      const cv::Rect cells = cv::Rect(x * own.block, y * own.block, own.block, own.block) &
                             cv::Rect({0, 0}, paper.unprinted.size());
      if (cv::countNonZero(paper.unprinted(cells)) == cells.area()) bare.at<uchar>(y, x) = 255;
    }
  }
  return bare;
}

int stage_index(const SideInput& side, const std::string& stage) {
  for (std::size_t i = 0; i < side.layers.size(); ++i) {
    if (side.layers[i].stage == stage) return static_cast<int>(i);
  }
  return -1;
}

struct Leak {
  double sigma_mm = kSpreadsMm[1];
  std::array<double, 3> slope{0, 0, 0};
};

Leak fit_leak(const cv::Mat& own, const cv::Mat& bare, const cv::Mat& other, const cv::Mat& map,
              double block_mm) {
  Leak best;
  double least = std::numeric_limits<double>::max();
  for (const double sigma : kSpreadsMm) {
    const cv::Mat behind = behind_of(blurred(other, sigma / block_mm), map);
    Leak leak{sigma, {}};
    double scatter = 0;
    for (int c = 0; c < 3; ++c) {
      std::vector<float> x, y;
      for (int row = 0; row < own.rows; ++row) {
        for (int column = 0; column < own.cols; ++column) {
          if (bare.at<uchar>(row, column) == 0 || map.at<cv::Point2f>(row, column).x < -1e5F)
            continue;
          x.push_back(behind.at<cv::Vec3f>(row, column)[c]);
          y.push_back(1 - own.at<cv::Vec3f>(row, column)[c]);
        }
      }
      const Line line = fit_line(x, y);
      leak.slope[static_cast<std::size_t>(c)] = line.slope;
      scatter += line.scatter * line.scatter;
    }
    if (scatter < least) least = scatter, best = leak;
  }
  return best;
}

/// This side's paper at a stage where nothing lies behind it, else its common tone.
Eigen::Vector3d clear_paper(const SideContext& context, int stage, const cv::Mat& bare,
                            const cv::Mat& behind) {
  const Eigen::Vector3d tone =
      sharpening() * context.paper.stages[static_cast<std::size_t>(stage)].sheet.xyz;
  const Coarse own =
      relative_reflectance(*context.side, context.paper, stage, Against::sheet_paper);
  std::array<std::vector<float>, 3> values;
  for (int y = 0; y < bare.rows; ++y) {
    for (int x = 0; x < bare.cols; ++x) {
      const auto& a = behind.at<cv::Vec3f>(y, x);
      if (bare.at<uchar>(y, x) == 0 || std::max({a[0], a[1], a[2]}) > kClearBehind) continue;
      for (std::size_t c = 0; c < 3; ++c)
        values[c].push_back(own.values.at<cv::Vec3f>(y, x)[static_cast<int>(c)]);
    }
  }
  if (values[0].size() < kEnough) return tone;
  return tone.cwiseProduct(
      Eigen::Vector3d(mode_of(values[0]), mode_of(values[1]), mode_of(values[2])));
}

}  // namespace

void block_row(const Coarse& coarse, int row, int columns, float* values) {
  const cv::Mat& v = coarse.values;
  const int channels = v.channels();
  const float y =
      std::clamp((static_cast<float>(row) + 0.5F) / static_cast<float>(coarse.block) - 0.5F, 0.0F,
                 static_cast<float>(v.rows - 1));
  const int y0 = static_cast<int>(y), y1 = std::min(y0 + 1, v.rows - 1);
  const float fy = y - static_cast<float>(y0);
  const float *up = v.ptr<float>(y0), *down = v.ptr<float>(y1);
  for (int i = 0; i < columns; ++i) {
    const float x =
        std::clamp((static_cast<float>(i) + 0.5F) / static_cast<float>(coarse.block) - 0.5F, 0.0F,
                   static_cast<float>(v.cols - 1));
    const int x0 = static_cast<int>(x), x1 = std::min(x0 + 1, v.cols - 1);
    const float fx = x - static_cast<float>(x0);
    for (int c = 0; c < channels; ++c) {
      const float top =
          up[x0 * channels + c] + fx * (up[x1 * channels + c] - up[x0 * channels + c]);
      const float bottom =
          down[x0 * channels + c] + fx * (down[x1 * channels + c] - down[x0 * channels + c]);
      values[i * channels + c] = top + fy * (bottom - top);
    }
  }
}

Behind look_behind(const SideContext& context, const OtherSide& other) {
  const SideInput &side = *context.side, &far = *other.input;
  const SideContext far_context = make_context(far);
  Behind behind;
  if (!far_context.paper.found) return behind;
  const Coarse own = relative_reflectance(side, context.paper, 0, Against::sheet_paper);
  const Coarse first = relative_reflectance(far, far_context.paper, 0, Against::local_paper);
  const cv::Mat map = blocks_behind(side, other.to_other, own, first);
  const cv::Mat bare = bare_blocks(context.paper, own);
  const double block_mm = first.block * far.geometry.pitch_mm;
  // The leak is one of the paper; the other side's stage nearest to this side's first tells it.
  const Leak leak = fit_leak(own.values, bare, absorbed(first.values), map, block_mm);

  for (std::size_t s = 0; s < side.layers.size(); ++s) {
    const int there = stage_index(far, side.layers[s].stage);
    if (there < 0) behind.same_stages = false;
    const Coarse relative =
        there <= 0 ? first
                   : relative_reflectance(far, far_context.paper, there, Against::local_paper);
    cv::Mat dimming = behind_of(blurred(absorbed(relative.values), leak.sigma_mm / block_mm), map);
    if (s == 0) {
      // Anything within reach of a dye counts as behind.
      const cv::Mat near = behind_of(blurred(absorbed(first.values), kDiffusionMm / block_mm), map);
      for (int t = 0; t < static_cast<int>(side.layers.size()); ++t)
        behind.paper.push_back(clear_paper(context, t, bare, near));
    }
    cv::multiply(dimming, cv::Scalar(leak.slope[0], leak.slope[1], leak.slope[2]), dimming);
    behind.dimming.push_back({own.block, dimming});
  }

  Sources sources = find_sources(far_context, first);
  behind.colours = std::move(sources.colours);
  const double diffusion = std::hypot(kDiffusionMm, other.pairing_mm) / block_mm;
  for (const Coarse& presence : sources.presence)
    behind.presence.push_back({own.block, behind_of(blurred(presence.values, diffusion), map)});
  return behind;
}

}  // namespace inkwane::change
