#include "change/sources.hpp"

#include <algorithm>
#include <limits>

#include "change/colour_space.hpp"

namespace inkwane::change {
namespace {

constexpr double kBlockMm = 0.5;
constexpr float kInk = 0.05F;  // Σ K/S of a block from which it holds ink
/// Two absorptions are one colour below this angle; cos 8°.
constexpr float kSame = 0.990F;
/// An added colour and an ink are two already from this angle: whose colour came through is what is
/// asked, and where they lie tells them apart as well. cos 4°, our own choice.
constexpr float kSameUnlike = 0.9976F;
/// An ink's own variation of direction (thin and thick places); cos 16°.
constexpr float kBelongs = 0.961F;
constexpr double kLeastShare = 0.01;
/// What may hide in an overprint counts for less than what is plainly there.
constexpr float kHidden = 0.3F;
/// Channels in which a colour absorbs less than this, of a length of 1, say nothing of it.
constexpr float kCounted = 0.05F;

struct Block {
  Eigen::Vector3f unit;  // direction of K/S, length 1
  float strength = 0;    // Σ K/S
  int source = -1;
};

Eigen::Vector3f absorption(const Eigen::Vector3f& sharp, const Eigen::Vector3f& paper) {
  Eigen::Vector3f k;
  for (int c = 0; c < 3; ++c) k[c] = std::max(0.0F, ks(sharp[c]) - ks(paper[c]));
  return k;
}

/// Σ K/S of the most of a colour that a block's absorption leaves room for: an overprint hides it.
float most_within(const Block& block, const Eigen::Vector3f& unit) {
  if (block.strength < kInk) return 0;
  const float scale = block.strength / block.unit.sum();
  float most = std::numeric_limits<float>::max();
  for (int c = 0; c < 3; ++c) {
    if (unit[c] > kCounted) most = std::min(most, scale * block.unit[c] / unit[c]);
  }
  return most * unit.sum();
}

/// The heaviest direction among blocks that belong to no source yet; the middle of what lies about
/// it.
bool heaviest(const std::vector<Block>& blocks, double all, Eigen::Vector3f& direction) {
  // Bins of the simplex of absorption: K/S shares of two channels, twelfths.
  constexpr int kBins = 12;
  std::array<double, kBins * kBins> weight{};
  std::array<Eigen::Vector3f, kBins * kBins> sum;
  sum.fill(Eigen::Vector3f::Zero());
  for (const Block& b : blocks) {
    if (b.source >= 0 || b.strength < kInk) continue;
    const Eigen::Vector3f share = b.unit / b.unit.sum();
    const auto bin =
        static_cast<std::size_t>(std::min(kBins - 1, static_cast<int>(share[0] * kBins)) * kBins +
                                 std::min(kBins - 1, static_cast<int>(share[1] * kBins)));
    const float w = std::min(b.strength, 1.0F);  // dark places must not drown the others
    weight[bin] += static_cast<double>(w);
    sum[bin] += w * b.unit;
  }
  const auto top = std::max_element(weight.begin(), weight.end());
  if (*top < kLeastShare * all) return false;
  direction = sum[static_cast<std::size_t>(top - weight.begin())].normalized();
  Eigen::Vector3f about = Eigen::Vector3f::Zero();
  for (const Block& b : blocks) {
    if (b.source < 0 && b.strength >= kInk && b.unit.dot(direction) > kSame)
      about += std::min(b.strength, 1.0F) * b.unit;
  }
  if (about.norm() > 0) direction = about.normalized();
  return true;
}

}  // namespace

Coarse relative_reflectance(const SideInput& side, const PaperSurvey& paper, int stage,
                            Against against) {
  const Layer& layer = side.layers[static_cast<std::size_t>(stage)];
  Coarse coarse;
  coarse.block = std::max(1, static_cast<int>(std::lround(kBlockMm / side.geometry.pitch_mm)));
  const int rows = (side.geometry.rows + coarse.block - 1) / coarse.block,
            columns = (side.geometry.columns + coarse.block - 1) / coarse.block;
  coarse.values = cv::Mat(rows, columns, CV_32FC3, cv::Scalar::all(1));
  const Eigen::Matrix3f m = sharpening().cast<float>();
  cv::parallel_for_({0, rows}, [&](const cv::Range& range) {
    for (int by = range.start; by < range.end; ++by) {
      for (int bx = 0; bx < columns; ++bx) {
        Eigen::Vector3f sum = Eigen::Vector3f::Zero();
        int n = 0;
        for (int y = by * coarse.block; y < std::min((by + 1) * coarse.block, side.geometry.rows);
             ++y) {
          const uchar* valid = layer.valid.ptr<uchar>(y);
          const auto* xyz = layer.xyz.ptr<cv::Vec3f>(y);
          for (int x = bx * coarse.block;
               x < std::min((bx + 1) * coarse.block, side.geometry.columns); ++x) {
            if (valid[x] == 0 || std::isnan(xyz[x][1])) continue;
            sum += Eigen::Vector3f(xyz[x][0], xyz[x][1], xyz[x][2]);
            ++n;
          }
        }
        if (n == 0) continue;
        const Colour beside = against == Against::sheet_paper
                                  ? paper.stages[static_cast<std::size_t>(stage)].sheet
                                  : paper.at(stage, {(bx + 0.5) * coarse.block - 0.5,
                                                     (by + 0.5) * coarse.block - 0.5});
        const Eigen::Vector3f relative =
            (m * sum / static_cast<float>(n))
                .cwiseQuotient((sharpening() * beside.xyz).cast<float>());
        for (int c = 0; c < 3; ++c)
          coarse.values.at<cv::Vec3f>(by, bx)[c] = std::max(relative[c], 0.0F);
      }
    }
  });
  return coarse;
}

Sources find_sources(const SideContext& context, const Coarse& first_stage) {
  const SideInput& side = *context.side;
  const Eigen::Vector3f paper =
      (sharpening() * context.paper.stages.front().sheet.xyz).cast<float>();
  const cv::Mat& relative = first_stage.values;
  std::vector<Block> blocks(static_cast<std::size_t>(relative.rows * relative.cols));
  double all = 0;
  for (int y = 0; y < relative.rows; ++y) {
    for (int x = 0; x < relative.cols; ++x) {
      const auto& r = relative.at<cv::Vec3f>(y, x);
      const Eigen::Vector3f k =
          absorption(Eigen::Vector3f(r[0], r[1], r[2]).cwiseProduct(paper), paper);
      Block& b = blocks[static_cast<std::size_t>(y * relative.cols + x)];
      b.strength = k.sum();
      if (b.strength < kInk) continue;
      b.unit = k.normalized();
      all += static_cast<double>(std::min(b.strength, 1.0F));
    }
  }

  std::vector<Eigen::Vector3f> units;
  std::vector<Role> roles;
  auto add = [&](const Eigen::Vector3f& unit, Role role) {
    for (std::size_t s = 0; s < units.size(); ++s) {
      if (units[s].dot(unit) > (roles[s] == role ? kSame : kSameUnlike)) return;
    }
    if (static_cast<int>(units.size()) < kMostSources) units.push_back(unit), roles.push_back(role);
  };
  // Many named inks must not crowd out the colours that are likeliest to come through.
  for (const Role role : {Role::added, Role::ink}) {
    for (std::size_t i = 0; i < side.regions.size(); ++i) {
      if (side.regions[i].region->role != role || !context.usable[i].front()) continue;
      const Eigen::Vector3f sharp =
          (sharpening() * weighted_mean(side.layers.front().xyz, context.weights[i])).cast<float>();
      const Eigen::Vector3f k = absorption(sharp, paper);
      if (k.sum() > kInk) add(k.normalized(), role);
    }
  }
  auto assign = [&] {
    for (Block& b : blocks) {
      b.source = -1;
      if (b.strength < kInk) continue;
      float best = kBelongs;
      for (std::size_t s = 0; s < units.size(); ++s) {
        if (b.unit.dot(units[s]) > best)
          best = b.unit.dot(units[s]), b.source = static_cast<int>(s);
      }
    }
  };
  assign();
  Eigen::Vector3f direction;
  while (static_cast<int>(units.size()) < kMostSources && heaviest(blocks, all, direction)) {
    units.push_back(direction);
    assign();
  }

  Sources sources;
  for (std::size_t s = 0; s < units.size(); ++s) {
    Coarse presence{first_stage.block, cv::Mat(relative.size(), CV_32FC1, cv::Scalar(0))};
    Eigen::Vector3f light = Eigen::Vector3f::Zero();
    float n = 0;
    for (int y = 0; y < relative.rows; ++y) {
      for (int x = 0; x < relative.cols; ++x) {
        const Block& b = blocks[static_cast<std::size_t>(y * relative.cols + x)];
        if (b.source != static_cast<int>(s)) {
          presence.values.at<float>(y, x) = kHidden * most_within(b, units[s]);
          continue;
        }
        presence.values.at<float>(y, x) = b.strength;
        const auto& r = relative.at<cv::Vec3f>(y, x);
        light += b.strength * Eigen::Vector3f(r[0], r[1], r[2]).cwiseProduct(paper);
        n += b.strength;
      }
    }
    if (n == 0) continue;
    const Eigen::Vector3d xyz = unsharpening() * (light / n).cast<double>();
    sources.colours.push_back({to_lab({xyz[0], xyz[1], xyz[2]}), units[s] / units[s].sum()});
    sources.presence.push_back(std::move(presence));
  }
  return sources;
}

}  // namespace inkwane::change
