#include "change/bleed.hpp"

#include <algorithm>
#include <limits>

#include <opencv2/imgproc.hpp>

#include "change/attribution.hpp"
#include "change/pair_rows.hpp"

namespace inkwane::change {
namespace {

/// Share of a gain (its squared length, in its own uncertainties) that colours from behind must
/// make up for the rest to count as theirs too: an ink of two dyes may lose one of them.
constexpr float kTheirs = 0.5F;
/// What comes through paper is diffuse: a cell goes by its neighbours within the first of these,
/// each as far as it is certain, and one that says little of its own (between letters of this
/// side's print) by those within the second, which count for less.
constexpr double kNearMm = 0.2, kFarMm = 0.6;
constexpr double kFarWeight = 0.01;
/// This side's own ink may have faded by as much as this, and hidden a gain; K/S above the paper
/// from which it is ink and not the paper's texture.
constexpr float kFading = 0.05F, kTexture = 0.02F;
/// A cell this much less certain than those about it is ink mixed with the paper beside it, by the
/// aperture or a screen; the ink is then taken as dark as a printed black (common practice, no
/// source).
constexpr float kMixed = 0.6F, kDarkInk = 0.04F;
constexpr int kTileRows = 96;

struct TileSums {
  double gained = 0;
  std::array<double, kMostSources> from{};
};

/// A band of rows.
class Tile {
 public:
  Tile(const SideContext& context, const Drift& drift, const Behind* behind, int from, int to,
       cv::Mat& value)
      : side_(*context.side),
        context_(context),
        behind_(behind),
        from_(from),
        to_(to),
        value_(value),
        n_(side_.geometry.columns),
        margin_(static_cast<int>(std::ceil(3 * kFarMm / side_.geometry.pitch_mm))),
        rows_(side_, drift, from, to),
        overall_(paper(from), paper(to)) {
    without_.resize(n_);
    lab_.resize(n_);
    for (int c = 0; c < 3; ++c) {
      paper_ks_[c] = ks(static_cast<float>(paper(from)[c]));
      paper_to_[c] = static_cast<float>(paper(to)[c]);
    }
    if (behind_ == nullptr) return;
    dim_from_.resize(3 * static_cast<std::size_t>(n_));
    dim_to_.resize(dim_from_.size());
    presence_.assign(behind_->presence.size(), std::vector<float>(static_cast<std::size_t>(n_)));
  }

  TileSums run(int first, int last) {
    const int above = std::max(0, first - margin_), below = std::min(value_.rows, last + margin_);
    cv::Mat weighted(below - above, n_, CV_32FC3), weight(below - above, n_, CV_32FC3);
    bool any = false;
    for (int y = above; y < below; ++y) {
      any |= gains(y, weighted.ptr<cv::Vec3f>(y - above), weight.ptr<cv::Vec3f>(y - above));
    }
    cv::Mat certainty, alone;
    if (any) {
      const auto [near_gain, far_gain] = gathered(weighted);
      const auto [near_weight, far_weight] = gathered(weight);
      cv::divide(weight, far_weight, alone);
      certainty = near_weight + far_weight;
      weight = near_weight + kFarWeight * far_weight;
      weighted = near_gain + kFarWeight * far_gain;
      weighted /= cv::max(weight, 1e-12);
    }
    TileSums sums;
    for (int y = first; y < last; ++y) {
      float* out = value_.ptr<float>(y);
      std::fill(out, out + n_, 0.0F);
      if (any) {
        counterfactual(y, weighted.ptr<cv::Vec3f>(y - above), certainty.ptr<cv::Vec3f>(y - above),
                       alone.ptr<cv::Vec3f>(y - above), sums);
      }
      const Layer &a = side_.layers[static_cast<std::size_t>(from_)],
                  &b = side_.layers[static_cast<std::size_t>(to_)];
      for (int i = 0; i < n_; ++i) {
        const bool measured =
            measured_at(a, y, i) && measured_at(b, y, i) && side_.sheet.at<uchar>(y, i) != 0;
        if (!measured) out[i] = std::numeric_limits<float>::quiet_NaN();
      }
    }
    return sums;
  }

 private:
  const SideInput& side_;
  const SideContext& context_;
  const Behind* behind_;
  int from_, to_;
  cv::Mat& value_;
  int n_;
  int margin_;
  PairRows rows_;
  OverallChange overall_;
  float paper_ks_[3], paper_to_[3];  // K/S before, reflectance after
  Row3 without_, lab_;
  std::vector<float> dim_from_, dim_to_;
  std::vector<std::vector<float>> presence_;

  static bool measured_at(const Layer& layer, int y, int x) {
    return layer.valid.at<uchar>(y, x) != 0 && !std::isnan(layer.xyz.at<cv::Vec3f>(y, x)[1]);
  }

  /// Sums over the two neighbourhoods.
  [[nodiscard]] std::array<cv::Mat, 2> gathered(const cv::Mat& values) const {
    const double per_mm = 1 / side_.geometry.pitch_mm;
    std::array<cv::Mat, 2> sums;
    cv::GaussianBlur(values, sums[0], {}, kNearMm * per_mm, 0, cv::BORDER_CONSTANT);
    // The kernel ends with the tile's margin, so that tiles agree at their seams.
    cv::GaussianBlur(values, sums[1], {2 * margin_ + 1, 2 * margin_ + 1}, kFarMm * per_mm, 0,
                     cv::BORDER_CONSTANT);
    return sums;
  }

  [[nodiscard]] Eigen::Vector3d paper(int stage) const {
    const auto s = static_cast<std::size_t>(stage);
    if (behind_ != nullptr) return behind_->paper[s];
    return sharpening() * context_.paper.stages[s].sheet.xyz;
  }

  /// Changes of K/S beyond show-through and the sheet's own change, times their weights (1 /
  /// variance). Returns whether any of them is a significant rise.
  bool gains(int y, cv::Vec3f* weighted, cv::Vec3f* weight) {
    rows_.move_to(y);
    if (behind_ != nullptr) {
      block_row(behind_->dimming[static_cast<std::size_t>(from_)], y, n_, dim_from_.data());
      block_row(behind_->dimming[static_cast<std::size_t>(to_)], y, n_, dim_to_.data());
    }
    bool any = false;
    const uchar* sheet = side_.sheet.ptr<uchar>(y);
    for (int i = 0; i < n_; ++i) {
      weighted[i] = weight[i] = cv::Vec3f(0, 0, 0);
      if (rows_.valid[static_cast<std::size_t>(i)] == 0 || sheet[i] == 0) continue;
      float z2 = 0;
      for (int c = 0; c < 3; ++c) {
        float a = rows_.from->sharp[c][i], ka = rows_.from->ks[c][i];
        if (behind_ != nullptr) {
          const auto at = static_cast<std::size_t>(3 * i + c);
          const float ratio = (1 - dim_to_[at]) / (1 - dim_from_[at]);
          if (ratio != 1) a *= ratio, ka = ks(a);
        }
        const float rise = overall_.rise(c, ka, rows_.to->sharp[c][i], rows_.to->ks[c][i]);
        const float own = kFading * std::max(0.0F, ka - paper_ks_[c] - kTexture);
        weight[i][c] = 1 / (rows_.ks_variance[c][i] + own * own + 1e-12F);
        weighted[i][c] = weight[i][c] * rise;
        if (rise > 0) z2 += weighted[i][c] * rise;
      }
      any |= z2 > kCounts * kCounts;
    }
    return any;
  }

  /// CIEDE2000 between the later row and the row without what came from behind.
  void counterfactual(int y, const cv::Vec3f* gathered, const cv::Vec3f* weight,
                      const cv::Vec3f* alone, TileSums& sums) {
    bool any = false;
    for (int i = 0; i < n_; ++i) {
      float gain[3], z2 = 0;
      for (int c = 0; c < 3; ++c) {
        gain[c] = std::max(0.0F, gathered[i][c]);
        z2 += gain[c] * gain[c] * weight[i][c];
      }
      if (!(z2 > kCounts * kCounts)) continue;
      if (!any) begin_row(y);
      any = true;
      take_off(i, gain, weight[i].val, alone[i].val, sums);
    }
    if (!any) return;
    lab_row(without_, n_, lab_);
    delta_e_row(rows_.to->lab, lab_, n_, value_.ptr<float>(y));
  }

  void begin_row(int y) {
    rows_.move_to(y);
    for (int c = 0; c < 3; ++c) std::copy_n(rows_.to->sharp[c], n_, without_[c]);
    if (behind_ == nullptr) return;
    for (std::size_t j = 0; j < presence_.size(); ++j) {
      block_row(behind_->presence[j], y, n_, presence_[j].data());
    }
  }

  /// Takes what came from behind off the later colour.
  void take_off(int i, const float gain[3], const float weight[3], const float alone[3],
                TileSums& sums) {
    sums.gained += static_cast<double>(gain[0] + gain[1] + gain[2]);
    float theirs[3] = {gain[0], gain[1], gain[2]};
    if (behind_ != nullptr) {
      std::array<float, kMostSources> presence{};
      for (std::size_t j = 0; j < presence_.size(); ++j) {
        presence[j] = presence_[j][static_cast<std::size_t>(i)];
      }
      if (*std::max_element(presence.begin(), presence.end()) <= kBehind) return;
      const Attribution found = attribute(gain, weight, behind_->colours, presence);
      for (std::size_t j = 0; j < presence_.size(); ++j) {
        sums.from[j] += static_cast<double>(found.amount[j]);
      }
      if (found.explained < kTheirs) std::copy_n(found.channel, 3, theirs);
    }
    for (int c = 0; c < 3; ++c) {
      const float gained = std::max(0.0F, theirs[c]), r = rows_.to->sharp[c][i];
      if (alone[c] > kMixed) {
        without_[c][i] = reflectance(rows_.to->ks[c][i] - gained);
        continue;
      }
      // Paper between dots, letters and at edges carries the gain; the ink beside it shows little.
      const float paper = paper_to_[c], stained = reflectance(ks(paper) + gained);
      const float bare = std::clamp((r - kDarkInk) / (stained - kDarkInk), 0.0F, 1.0F);
      without_[c][i] = r + bare * (paper - stained);
    }
  }
};

}  // namespace

BleedMap map_bleed(const SideContext& context, const Drift& drift, const Behind* behind, int from,
                   int to, double sheet_mm2) {
  const SideInput& side = *context.side;
  BleedMap map;
  map.value.create(side.geometry.size(), CV_32FC1);
  // Tiles of fixed rows, so that nothing depends on how they are shared among threads.
  const int count = (side.geometry.rows + kTileRows - 1) / kTileRows;
  std::vector<TileSums> tiles(static_cast<std::size_t>(count));
  cv::parallel_for_({0, count}, [&](const cv::Range& range) {
    Tile tile(context, drift, behind, from, to, map.value);
    for (int t = range.start; t < range.end; ++t) {
      tiles[static_cast<std::size_t>(t)] =
          tile.run(t * kTileRows, std::min((t + 1) * kTileRows, side.geometry.rows));
    }
  });
  map.found.area = seen_area(map.value, side.geometry.cell_mm2(), sheet_mm2);
  map.found.above = areas_above(map.value, side.geometry.cell_mm2(), sheet_mm2);
  if (behind == nullptr) return map;
  TileSums total;
  for (const TileSums& tile : tiles) {
    total.gained += tile.gained;
    for (std::size_t j = 0; j < kMostSources; ++j) total.from[j] += tile.from[j];
  }
  for (std::size_t j = 0; j < behind->colours.size(); ++j) {
    const double share = total.gained > 0 ? total.from[j] / total.gained : 0;
    if (share >= 0.005) map.found.sources.push_back({behind->colours[j].lab, share});
  }
  std::stable_sort(map.found.sources.begin(), map.found.sources.end(),
                   [](const auto& p, const auto& q) { return p.share > q.share; });
  return map;
}

}  // namespace inkwane::change
