#include "change/cell_maps.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include <opencv2/imgproc.hpp>

#include "change/pair_rows.hpp"
#include "change/residual_map.hpp"
#include "grid/disc.hpp"

namespace inkwane::change {
namespace {

constexpr float kNaN = std::numeric_limits<float>::quiet_NaN();
/// Least Σ K/S above the paper that is ink: above show-through of a solid at a thirtieth, and paper
/// texture. The sheet's own bare paper raises it (kInkFactor standard deviations).
constexpr float kLeastInk = 0.04F, kInkFactor = 6;
constexpr float kLost = 0.10F;         // docs/formats.md, lost_ink
constexpr float kLostUncertainty = 2;  // standard uncertainties, about 95 %
constexpr int kStride = 4;
/// Of three directions of noise two lie across a change and lengthen it (Rice's distribution);
/// along it noise errs both ways. And the channels share about half of their noise, which makes
/// less colour of it than channels apart would.
constexpr float kAcross = 1.0F / 3.0F;

Eigen::Vector3d sharp_paper(const SideContext& context, int stage) {
  return sharpening() * context.paper.stages[static_cast<std::size_t>(stage)].sheet.xyz;
}

/// K/S of the sheet's own paper. Not of the paper beside each cell: a wide light tint passes for
/// paper in a small neighbourhood, and would then seem to come and go between stages.
std::array<float, 3> paper_ks(const SideContext& context, int stage) {
  const Eigen::Vector3d paper = sharp_paper(context, stage);
  return {ks(static_cast<float>(paper[0])), ks(static_cast<float>(paper[1])),
          ks(static_cast<float>(paper[2]))};
}

/// Σ K/S above the paper from which a cell holds ink at `stage`.
float ink_limit(const SideContext& context, int stage) {
  const SideInput& side = *context.side;
  const Layer& layer = side.layers[static_cast<std::size_t>(stage)];
  LayerRows rows(layer);
  const std::array<float, 3> paper = paper_ks(context, stage);
  std::vector<float> off;
  for (int y = 0; y < side.geometry.rows; y += 4 * kStride) {
    const auto& row = rows.at(y);
    for (int x = 0; x < side.geometry.columns; x += kStride) {
      if (context.paper.unprinted.at<uchar>(y, x) == 0 || layer.valid.at<uchar>(y, x) == 0)
        continue;
      float sum = 0;
      for (int c = 0; c < 3; ++c) sum += row.ks[c][x] - paper[static_cast<std::size_t>(c)];
      if (sum == sum) off.push_back(std::abs(sum));
    }
  }
  if (off.size() < 50) return kLeastInk;
  const auto middle = off.begin() + static_cast<std::ptrdiff_t>(off.size() / 2);
  std::nth_element(off.begin(), middle, off.end());
  return std::max(kLeastInk, kInkFactor * 1.4826F * *middle);
}

/// CV_8UC1 on the grid: 255 in regions of added colour, and as far beyond as it reaches there: a
/// polygon is drawn to about half a millimetre (common practice, no source), and the aperture
/// spreads the colour over half its width again.
cv::Mat added_cells(const SideInput& side) {
  constexpr double kDrawingMm = 0.5;
  cv::Mat added(side.geometry.size(), CV_8UC1, cv::Scalar(0));
  for (const region::Mask& mask : side.regions) {
    if (mask.region->role == Role::added) added(mask.bounds).setTo(255, mask.inside);
  }
  const int reach =
      static_cast<int>(std::ceil((kDrawingMm + side.aperture_mm) / side.geometry.pitch_mm));
  cv::dilate(added, added, grid::disc(reach));
  return added;
}

/// What a band of rows adds to the side's figures; summed in the order of the rows.
struct RowSums {
  double sheet = 0, lost = 0, ink = 0, kept = 0;
};

/// A value less what its own uncertainty makes of no change at all.
float beyond(float value, float variance) {
  const float rest = value * value - variance;
  return rest > 0 ? std::sqrt(rest) : 0.0F;
}

class Band {
 public:
  Band(const SideContext& context, const Drift& drift, int from, int to, InkLaw law,
       float ink_limit, const cv::Mat& added, CellMaps& maps)
      : context_(context),
        ink_limit_(ink_limit),
        added_(added),
        maps_(maps),
        n_(context.side->geometry.columns),
        rows_(*context.side, drift, from, to),
        noise_(drift.noise),
        law_(law),
        overall_(sharp_paper(context, from), sharp_paper(context, to)),
        paper_from_(paper_ks(context, from)),
        paper_to_(paper_ks(context, to)) {
    risen_.resize(n_);
    lab_.resize(n_);
    noise2_.resize(static_cast<std::size_t>(n_));
    of_noise_.resize(noise2_.size());
  }

  RowSums row(int y) {
    rows_.move_to(y);
    RowSums sums;
    difference(y, sums);
    lost(y, sums);
    gained(y);
    return sums;
  }

 private:
  const SideContext& context_;
  float ink_limit_;
  const cv::Mat& added_;
  CellMaps& maps_;
  int n_;
  PairRows rows_;
  CellNoise noise_;
  InkLaw law_;
  OverallChange overall_;
  std::array<float, 3> paper_from_, paper_to_;
  Row3 risen_, lab_;
  std::vector<float> noise2_, of_noise_;

  /// What noise alone makes of no change, CIEDE2000 squared, to first order: each channel moved by
  /// its own noise.
  void noise_of_difference() {
    std::fill(noise2_.begin(), noise2_.end(), 0.0F);
    for (int moved = 0; moved < 3; ++moved) {
      for (int c = 0; c < 3; ++c) {
        const float* r = rows_.from->sharp[c];
        for (int i = 0; i < n_; ++i)
          risen_[c][i] = c == moved ? r[i] + std::sqrt(noise_.variance(r[i])) : r[i];
      }
      lab_row(risen_, n_, lab_);
      delta_e_row(rows_.from->lab, lab_, n_, of_noise_.data());
      for (std::size_t i = 0; i < noise2_.size(); ++i) noise2_[i] += of_noise_[i] * of_noise_[i];
    }
  }

  void difference(int y, RowSums& sums) {
    float* out = maps_.difference.ptr<float>(y);
    const uchar* sheet = context_.side->sheet.ptr<uchar>(y);
    delta_e_row(rows_.from->lab, rows_.to->lab, n_, out);
    noise_of_difference();
    for (int i = 0; i < n_; ++i) {
      const auto cell = static_cast<std::size_t>(i);
      if (sheet[i] == 0) rows_.valid[cell] = 0;
      out[i] = rows_.valid[cell] != 0 ? beyond(out[i], kAcross * noise2_[cell]) : kNaN;
      sums.sheet += rows_.valid[cell] != 0 ? 1 : 0;
    }
  }

  /// Absorption of a cell's channel above the sheet's paper, and the variance of a change of it.
  struct Absorbed {
    float before, after, variance;
  };
  [[nodiscard]] Absorbed absorbed(int c, int i) const {
    const auto channel = static_cast<std::size_t>(c);
    const float variance = rows_.ks_variance[c][i];
    if (law_ == InkLaw::kubelka_munk)
      return {rows_.from->ks[c][i] - paper_from_[channel], rows_.to->ks[c][i] - paper_to_[channel],
              variance};
    const float a = rows_.from->sharp[c][i], b = rows_.to->sharp[c][i];
    const float slope = density_slope(a) / std::max(ks_slope(a), 1e-3F);
    return {density(a) - density(reflectance(paper_from_[channel])),
            density(b) - density(reflectance(paper_to_[channel])), variance * slope * slope};
  }

  void lost(int y, RowSums& sums) {
    float* out = maps_.lost_ink.ptr<float>(y);
    const uchar* added = added_.ptr<uchar>(y);
    for (int i = 0; i < n_; ++i) {
      out[i] = kNaN;
      if (rows_.valid[static_cast<std::size_t>(i)] == 0 || added[i] != 0) continue;
      float ink = 0, before = 0, after = 0, variance = 0;
      for (int c = 0; c < 3; ++c) {
        ink += rows_.from->ks[c][i] - paper_from_[static_cast<std::size_t>(c)];
        const Absorbed here = absorbed(c, i);
        before += here.before;
        after += here.after;
        variance += here.variance;
      }
      if (!(ink > ink_limit_) || !(before > 0)) continue;
      const auto seen = static_cast<double>(after / before);
      const auto band =
          static_cast<float>(band_error(law_, static_cast<double>(before), seen).mean);
      const float kept = after / before - band;
      const float share = 1 - kept, relative = variance / (before * before);
      out[i] = share > 0 ? std::min(1.0F, beyond(share, relative)) : 0.0F;
      sums.ink += 1;
      // Not the map's value: what noise seems to add here and to take there must cancel.
      sums.kept += std::clamp(seen, 0.0, 2.0);
      if (out[i] > kLost && share * share > kLostUncertainty * kLostUncertainty * relative)
        sums.lost += 1;
    }
  }

  void gained(int y) {
    float* out = maps_.gained_colour.ptr<float>(y);
    const Row3 &ka = rows_.from->ks, &kb = rows_.to->ks, &rb = rows_.to->sharp,
               &u2 = rows_.ks_variance;
    bool any = false;
    for (int i = 0; i < n_; ++i) {
      float rise[3], z2 = 0;
      for (int c = 0; c < 3; ++c) {
        rise[c] = overall_.rise(c, ka[c][i], rb[c][i], kb[c][i]);
        if (rise[c] > 0) z2 += rise[c] * rise[c] / (u2[c][i] + 1e-12F);
      }
      const bool counts = rows_.valid[static_cast<std::size_t>(i)] != 0 && z2 > kCounts * kCounts;
      any |= counts;
      for (int c = 0; c < 3; ++c)
        risen_[c][i] =
            counts && rise[c] > 0 ? reflectance(ka[c][i] + rise[c]) : rows_.from->sharp[c][i];
    }
    if (any) {
      lab_row(risen_, n_, lab_);
      delta_e_row(rows_.from->lab, lab_, n_, out);
    } else {
      std::fill(out, out + n_, 0.0F);
    }
    for (int i = 0; i < n_; ++i) {
      if (rows_.valid[static_cast<std::size_t>(i)] == 0) out[i] = kNaN;
    }
  }
};

}  // namespace

OverallChange::OverallChange(const Eigen::Vector3d& paper_from, const Eigen::Vector3d& paper_to) {
  for (int c = 0; c < 3; ++c) {
    const auto p = static_cast<float>(paper_from[c]), q = static_cast<float>(paper_to[c]);
    sum_[c] = ks(q) - ks(p);
    factor_[c] = p / q;
  }
}

results::ColourArea seen_area(const cv::Mat& map, double cell_mm2, double sheet_mm2) {
  double cells = 0, sum = 0;
  for (int y = 0; y < map.rows; ++y) {
    const float* row = map.ptr<float>(y);
    for (int x = 0; x < map.cols; ++x) {
      if (!(row[x] >= kSeen)) continue;
      cells += 1;
      sum += static_cast<double>(row[x]);
    }
  }
  results::ColourArea area;
  area.area_mm2 = cells * cell_mm2;
  if (sheet_mm2 > 0) area.share = area.area_mm2 / sheet_mm2;
  if (cells > 0) area.mean_dE00 = sum / cells;
  return area;
}

std::vector<results::AreaAbove> areas_above(const cv::Mat& map, double cell_mm2, double sheet_mm2) {
  std::vector<results::AreaAbove> above{{1, 0, 0}, {2, 0, 0}, {5, 0, 0}};
  for (results::AreaAbove& level : above) {
    level.area_mm2 = cell_mm2 * cv::countNonZero(map >= level.dE00);  // NaN fails the comparison
    if (sheet_mm2 > 0) level.share = level.area_mm2 / sheet_mm2;
  }
  return above;
}

CellMaps map_cells(const SideContext& context, const Drift& drift, const SheetLaws& laws, int from,
                   int to) {
  const SideInput& side = *context.side;
  CellMaps maps;
  for (cv::Mat* map : {&maps.difference, &maps.lost_ink, &maps.gained_colour})
    map->create(side.geometry.size(), CV_32FC1);
  const float limit = ink_limit(context, from);
  const cv::Mat added = added_cells(side);
  std::vector<RowSums> sums(static_cast<std::size_t>(side.geometry.rows));
  cv::parallel_for_({0, side.geometry.rows}, [&](const cv::Range& range) {
    Band band(context, drift, from, to, laws.ink, limit, added, maps);
    for (int y = range.start; y < range.end; ++y) sums[static_cast<std::size_t>(y)] = band.row(y);
  });
  RowSums total;
  for (const RowSums& row : sums) {
    total.sheet += row.sheet, total.lost += row.lost, total.ink += row.ink, total.kept += row.kept;
  }
  maps.sheet_mm2 = total.sheet * side.geometry.cell_mm2();
  maps.lost.area_mm2 = total.lost * side.geometry.cell_mm2();
  if (total.sheet > 0) maps.lost.share = total.lost / total.sheet;
  if (total.ink > 0) maps.lost.mean_kept = total.kept / total.ink;
  maps.gained = seen_area(maps.gained_colour, side.geometry.cell_mm2(), maps.sheet_mm2);
  maps.residual_added = map_residual(context, laws.added, from, to, limit);
  return maps;
}

}  // namespace inkwane::change
