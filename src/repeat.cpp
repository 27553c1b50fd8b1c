#include "repeat.hpp"

#include <cmath>

#include <Eigen/Dense>
#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "align/stages.hpp"
#include "scan_record.hpp"
#include "target/metric.hpp"

namespace inkwane {
namespace {

constexpr double kTileMm = 3;
constexpr double kMovedDE00 = 0.5;  // of an untouched region; common practice, no source

LabD50 lab_of(const cv::Scalar& xyz) {
  return to_lab({xyz[0], xyz[1], xyz[2]});
}

Eigen::Vector3d difference(const LabD50& first, const LabD50& later) {
  return target::ciede2000_metric(first) *
         Eigen::Vector3d(later.L - first.L, later.a - first.a, later.b - first.b);
}

align::View view_of(const Taken& taken) {
  return {&taken.grid, &taken.outline, taken.file(), taken.stage->id};
}

cv::Mat measurable(const Taken& taken) {
  return clear_sheet(taken) & ~taken.grid.clipped;
}

/// A repeat brought onto the first scan's grid.
struct Brought {
  align::Warp warp;
  cv::Mat xyz, valid;
};

Brought bring(const Taken& first, const Taken& repeat) {
  Brought out;
  out.warp = align::align_stage(view_of(first), view_of(repeat), {});
  out.xyz = align::warp_to_first(repeat.grid.xyz, out.warp);
  out.valid =
      measurable(first) & out.warp.valid & align::warp_to_first(measurable(repeat), out.warp);
  return out;
}

/// The matrix nearest to turning this scan's XYZ into its linear RGB, over its sheet: for small
/// differences.
cv::Matx33f light_by_xyz(const Taken& taken) {
  Eigen::Matrix3d xx = Eigen::Matrix3d::Zero(), lx = Eigen::Matrix3d::Zero();
  constexpr int kStep = 7;
  for (int y = 0; y < taken.grid.light.rows; y += kStep) {
    for (int x = 0; x < taken.grid.light.cols; x += kStep) {
      if (taken.outline.sheet.at<std::uint8_t>(y, x) == 0) continue;
      const auto& l = taken.grid.light.at<cv::Vec3f>(y, x);
      const auto& v = taken.grid.xyz.at<cv::Vec3f>(y, x);
      const Eigen::Vector3d light = Eigen::Vector3f(l[0], l[1], l[2]).cast<double>();
      const Eigen::Vector3d xyz = Eigen::Vector3f(v[0], v[1], v[2]).cast<double>();
      if (!light.allFinite() || !xyz.allFinite()) continue;
      xx += xyz * xyz.transpose();
      lx += light * xyz.transpose();
    }
  }
  const Eigen::Matrix3d map = lx * (xx + 1e-9 * xx.trace() * Eigen::Matrix3d::Identity()).inverse();
  cv::Matx33f out;
  for (int r = 0; r < 3; ++r) {
    for (int c = 0; c < 3; ++c) out(r, c) = static_cast<float>(map(r, c));
  }
  return out;
}

/// Moves the first scan's colours to the mean of all.
void average(Taken& first, const std::vector<Brought>& repeats) {
  cv::Mat step(first.grid.xyz.size(), CV_32FC3);
  for (int y = 0; y < step.rows; ++y) {
    for (int x = 0; x < step.cols; ++x) {
      cv::Vec3f sum(0, 0, 0);
      int count = 1;
      for (const Brought& repeat : repeats) {
        if (repeat.valid.at<std::uint8_t>(y, x) == 0) continue;
        const cv::Vec3f off = repeat.xyz.at<cv::Vec3f>(y, x) - first.grid.xyz.at<cv::Vec3f>(y, x);
        if (std::isnan(off[0] + off[1] + off[2])) continue;
        sum += off;
        ++count;
      }
      step.at<cv::Vec3f>(y, x) = sum / static_cast<float>(count);
    }
  }
  cv::Mat light_step;
  cv::transform(step, light_step, light_by_xyz(first));
  first.grid.light += light_step;
  first.grid.xyz += step;
}

void take_in(Taken& first, Taken repeat, const align::Warp& warp) {
  repeat.registration = {first.stage->id, warp.residual_mm_median, warp.residual_mm_p95,
                         warp.stretch_x, warp.stretch_y};
  repeat.warnings.insert(repeat.warnings.end(), warp.warnings.begin(), warp.warnings.end());
  repeat.grid = {};
  repeat.outline = {};
  repeat.scan.reset();
  first.repeats.push_back(std::move(repeat));
}

}  // namespace

void Spread::add(const cv::Mat& first, const cv::Mat& later, const cv::Mat& valid,
                 double pitch_mm) {
  const int tile = std::max(1, static_cast<int>(std::lround(kTileMm / pitch_mm)));
  std::vector<Eigen::Vector3d> offs;
  for (int y = 0; y + tile <= first.rows; y += tile) {
    for (int x = 0; x + tile <= first.cols; x += tile) {
      const cv::Rect box(x, y, tile, tile);
      if (2 * cv::countNonZero(valid(box)) < box.area()) continue;
      const cv::Scalar one = cv::mean(first(box), valid(box)),
                       two = cv::mean(later(box), valid(box));
      const Eigen::Vector3d off = difference(lab_of(one), lab_of(two));
      if (off.allFinite()) offs.push_back(off);
    }
  }
  if (offs.size() < 2) return;
  Eigen::Vector3d mean = Eigen::Vector3d::Zero();
  for (const Eigen::Vector3d& off : offs) mean += off / static_cast<double>(offs.size());
  double rest = 0;
  for (const Eigen::Vector3d& off : offs) rest += (off - mean).squaredNorm();
  // Half of a pair's squared difference is one scan's variance. Pairs with one scan in common
  // count as independent: with three scans that makes 6 degrees of freedom of 6, less sure ones.
  common_ += mean.squaredNorm() / 2;
  freedom_ += 3;
  local_ += rest / (2 * 3 * static_cast<double>(offs.size() - 1));
  ++pairs_;
}

void Spread::add(const LabD50& first, const LabD50& later) {
  common_ += difference(first, later).squaredNorm() / 2;
  freedom_ += 3;
}

std::optional<results::Repeatability> Spread::result(const std::string& from) const {
  if (freedom_ == 0) return std::nullopt;
  const double variance = common_ / (freedom_ - 2) + (pairs_ > 0 ? local_ / pairs_ : 0);
  return results::Repeatability{from, std::sqrt(variance), freedom_, {}};
}

void merge_repeats(std::vector<Taken>& scans, Spread& spread) {
  std::vector<Taken> merged;
  for (std::size_t i = 0; i < scans.size();) {
    Taken first = std::move(scans[i++]);
    std::vector<Brought> repeats;
    std::vector<Taken> further;
    for (; i < scans.size() && scans[i].repeat > 1; ++i) {
      repeats.push_back(bring(first, scans[i]));
      further.push_back(std::move(scans[i]));
    }
    for (const Brought& repeat : repeats)
      spread.add(first.grid.xyz, repeat.xyz, repeat.valid, first.grid.geometry.pitch_mm);
    if (!repeats.empty()) average(first, repeats);
    for (std::size_t k = 0; k < repeats.size(); ++k)
      take_in(first, std::move(further[k]), repeats[k].warp);
    merged.push_back(std::move(first));
  }
  scans = std::move(merged);
}

std::optional<results::Repeatability> compare_repeats(std::vector<Taken>& sheet) {
  Spread spread;
  std::vector<std::pair<std::string, std::string>> files;
  for (const Taken& scan : sheet) files.emplace_back(scan.file(), scan.info.sha256);
  merge_repeats(sheet, spread);
  auto found = spread.result("repeat scans of another sheet");
  if (found) found->files = std::move(files);
  return found;
}

void add_untouched(const change::SideInput& side, Spread& spread) {
  for (const region::Mask& mask : side.regions) {
    if (!mask.region->untouched) continue;
    const cv::Mat first = side.layers.front().xyz(mask.bounds);
    for (std::size_t s = 1; s < side.layers.size(); ++s) {
      const change::Layer& layer = side.layers[s];
      const cv::Mat both =
          mask.inside & layer.valid(mask.bounds) & side.layers.front().valid(mask.bounds);
      if (cv::countNonZero(both) == 0) continue;
      const LabD50 one = lab_of(cv::mean(first, both)),
                   two = lab_of(cv::mean(layer.xyz(mask.bounds), both));
      if (std::isfinite(one.L + two.L)) spread.add(one, two);
    }
  }
}

void apply_repeatability(const results::Repeatability& repeatability, std::vector<Taken>& scans) {
  for (Taken& scan : scans) {
    scan.fit.repeat_dE00 =
        repeatability.u_dE00 / std::sqrt(1 + static_cast<double>(scan.repeats.size()));
  }
}

void warn_of_untouched(std::vector<results::Region>& regions) {
  for (results::Region& region : regions) {
    if (!region.untouched) continue;
    for (results::RegionChange& change : region.changes) {
      if (!change.dE00 || *change.dE00 <= kMovedDE00) continue;
      change.warnings.push_back(fmt::format(
          "Untouched, yet it reads ΔE00 {:.1f} otherwise than at {}: the scanner drifted, or light "
          "from neighbours that changed reaches it (stray light); scan again, and have the "
          "scanner's stray light measured.",
          *change.dE00, change.from));
    }
  }
}

}  // namespace inkwane
