#include "change/bleed.hpp"

#include <algorithm>
#include <limits>

#include "change/pair_rows.hpp"

namespace inkwane::change {
namespace {

constexpr float kBehind =
    0.01F;  // Σ K/S of a colour, diffused, from which it can have come through
/// Share of a gain (its squared length, in its own uncertainties) that colours from behind must
/// make up for the rest to count as theirs too: an ink of two dyes may lose one of them.
constexpr float kTheirs = 0.5F;
constexpr int kRounds =
    25;  // of coordinate descent; three channels and a few colours settle sooner

struct Attribution {
  std::array<float, kMostSources> amount{};  // Σ K/S gained from each colour
  float explained = 0;                       // share of the squared gain
  float channel[3] = {0, 0, 0};              // K/S explained
};

/// Non-negative least squares of a gain on the directions of the colours that lie behind. Of
/// colours alike, a slight penalty prefers the one of which more lies there.
Attribution attribute(const float gain[3], const float weight[3],
                      const std::vector<SourceColour>& colours, const float* presence, float most) {
  Attribution result;
  std::array<float, kMostSources> norm{};
  float total = 0;
  for (int c = 0; c < 3; ++c) total += weight[c] * gain[c] * gain[c];
  for (std::size_t j = 0; j < colours.size(); ++j) {
    if (presence[j] <= kBehind) continue;
    for (int c = 0; c < 3; ++c)
      norm[j] += weight[c] * colours[j].direction[c] * colours[j].direction[c];
    norm[j] *= 1 + 0.01F * (most / presence[j]) * (most / presence[j]);
  }
  float rest[3] = {gain[0], gain[1], gain[2]};
  for (int round = 0; round < kRounds; ++round) {
    for (std::size_t j = 0; j < colours.size(); ++j) {
      if (norm[j] <= 0) continue;
      const Eigen::Vector3f& q = colours[j].direction;
      float slope = 0, own = 0;
      for (int c = 0; c < 3; ++c)
        slope += weight[c] * q[c] * rest[c], own += weight[c] * q[c] * q[c];
      const float wanted = std::max(0.0F, (slope + own * result.amount[j]) / norm[j]);
      const float step = wanted - result.amount[j];
      result.amount[j] = wanted;
      for (int c = 0; c < 3; ++c) rest[c] -= step * q[c];
    }
  }
  float left = 0;
  for (int c = 0; c < 3; ++c) {
    left += weight[c] * rest[c] * rest[c];
    result.channel[c] = std::min(gain[c], gain[c] - rest[c]);
  }
  result.explained = total > 0 ? 1 - left / total : 0;
  return result;
}

struct RowSums {
  double gained = 0;
  std::array<double, kMostSources> from{};
};

class Band {
 public:
  Band(const SideContext& context, const Drift& drift, const Behind* behind, int from, int to,
       cv::Mat& value)
      : context_(context),
        behind_(behind),
        from_(from),
        to_(to),
        value_(value),
        n_(context.side->geometry.columns),
        rows_(*context.side, drift, from, to),
        overall_(paper(from), paper(to)) {
    without_.resize(n_);
    lab_.resize(n_);
    if (behind_ == nullptr) return;
    dim_from_.resize(3 * static_cast<std::size_t>(n_));
    dim_to_.resize(dim_from_.size());
    presence_.assign(behind_->presence.size(), std::vector<float>(static_cast<std::size_t>(n_)));
  }

  RowSums row(int y) {
    rows_.move_to(y);
    const uchar* sheet = context_.side->sheet.ptr<uchar>(y);
    float* out = value_.ptr<float>(y);
    if (behind_ != nullptr) {
      block_row(behind_->dimming[static_cast<std::size_t>(from_)], y, n_, dim_from_.data());
      block_row(behind_->dimming[static_cast<std::size_t>(to_)], y, n_, dim_to_.data());
    }
    RowSums sums;
    bool any = false, presence_read = false;
    for (int i = 0; i < n_; ++i) {
      for (int c = 0; c < 3; ++c) without_[c][i] = rows_.to->sharp[c][i];
      if (rows_.valid[static_cast<std::size_t>(i)] == 0 || sheet[i] == 0) continue;
      float gain[3], weight[3];
      if (!gains(i, gain, weight)) continue;
      if (behind_ != nullptr && !presence_read) {
        for (std::size_t j = 0; j < presence_.size(); ++j)
          block_row(behind_->presence[j], y, n_, presence_[j].data());
        presence_read = true;
      }
      any = true;
      take_off(i, gain, weight, sums);
    }
    if (any) {
      lab_row(without_, n_, lab_);
      delta_e_row(rows_.to->lab, lab_, n_, out);
    } else {
      std::fill(out, out + n_, 0.0F);
    }
    for (int i = 0; i < n_; ++i) {
      if (rows_.valid[static_cast<std::size_t>(i)] == 0 || sheet[i] == 0)
        out[i] = std::numeric_limits<float>::quiet_NaN();
    }
    return sums;
  }

 private:
  const SideContext& context_;
  const Behind* behind_;
  int from_, to_;
  cv::Mat& value_;
  int n_;
  PairRows rows_;
  OverallChange overall_;
  Row3 without_, lab_;
  std::vector<float> dim_from_, dim_to_;
  std::vector<std::vector<float>> presence_;

  [[nodiscard]] Eigen::Vector3d paper(int stage) const {
    const auto s = static_cast<std::size_t>(stage);
    return behind_ != nullptr ? behind_->paper[s]
                              : Eigen::Vector3d(sharpening() * context_.paper.stages[s].sheet.xyz);
  }

  /// Rises of K/S beyond show-through and the sheet's own change; false if they are not
  /// significant.
  bool gains(int i, float gain[3], float weight[3]) const {
    float z2 = 0;
    for (int c = 0; c < 3; ++c) {
      float a = rows_.from->sharp[c][i], ka = rows_.from->ks[c][i];
      if (behind_ != nullptr) {
        const auto at = static_cast<std::size_t>(3 * i + c);
        const float ratio = (1 - dim_to_[at]) / (1 - dim_from_[at]);
        if (ratio != 1) a *= ratio, ka = ks(a);
      }
      gain[c] = std::max(0.0F, overall_.rise(c, ka, rows_.to->sharp[c][i], rows_.to->ks[c][i]));
      weight[c] = 1 / (rows_.ks_variance[c][i] + 1e-12F);
      z2 += gain[c] * gain[c] * weight[c];
    }
    return z2 > kCounts * kCounts;
  }

  /// Takes what came from behind off the later colour.
  void take_off(int i, const float gain[3], const float weight[3], RowSums& sums) {
    const float sum = gain[0] + gain[1] + gain[2];
    sums.gained += static_cast<double>(sum);
    float theirs[3] = {gain[0], gain[1], gain[2]};
    if (behind_ != nullptr) {
      float presence[kMostSources] = {}, most = 0;
      for (std::size_t j = 0; j < presence_.size(); ++j) {
        presence[j] = presence_[j][static_cast<std::size_t>(i)];
        most = std::max(most, presence[j]);
      }
      if (most <= kBehind) return;
      const Attribution found = attribute(gain, weight, behind_->colours, presence, most);
      for (std::size_t j = 0; j < presence_.size(); ++j)
        sums.from[j] += static_cast<double>(found.amount[j]);
      if (found.explained < kTheirs) std::copy_n(found.channel, 3, theirs);
    }
    for (int c = 0; c < 3; ++c)
      without_[c][i] = reflectance(rows_.to->ks[c][i] - std::max(0.0F, theirs[c]));
  }
};

}  // namespace

BleedMap map_bleed(const SideContext& context, const Drift& drift, const Behind* behind, int from,
                   int to, double sheet_mm2) {
  const SideInput& side = *context.side;
  BleedMap map;
  map.value.create(side.geometry.size(), CV_32FC1);
  std::vector<RowSums> rows(static_cast<std::size_t>(side.geometry.rows));
  cv::parallel_for_({0, side.geometry.rows}, [&](const cv::Range& range) {
    Band band(context, drift, behind, from, to, map.value);
    for (int y = range.start; y < range.end; ++y) rows[static_cast<std::size_t>(y)] = band.row(y);
  });
  map.found.area = seen_area(map.value, side.geometry.cell_mm2(), sheet_mm2);
  if (behind == nullptr) return map;
  RowSums total;
  for (const RowSums& row : rows) {
    total.gained += row.gained;
    for (std::size_t j = 0; j < kMostSources; ++j) total.from[j] += row.from[j];
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
