#include "change/residual_map.hpp"

#include <algorithm>
#include <limits>
#include <optional>

#include "change/pair_rows.hpp"

namespace inkwane::change {
namespace {

/// Sharpened RGB of what lies under a region at one stage, row by row: the paper, or one colour for
/// an ink.
class Under {
 public:
  Under(const SideContext& context, std::optional<Eigen::Vector3d> ink, int stage)
      : context_(context),
        stage_(stage),
        constant_(ink.has_value()),
        n_(context.side->geometry.columns),
        xyz_(3 * static_cast<std::size_t>(n_)) {
    row_.resize(n_);
    if (!ink) return;
    for (int c = 0; c < 3; ++c) std::fill_n(row_[c], n_, static_cast<float>((*ink)[c]));
  }
  const Row3& at(int y) {
    if (constant_) return row_;
    context_.paper.xyz_row(stage_, y, n_, xyz_.data());
    sharpen_row(xyz_.data(), n_, row_);
    return row_;
  }

 private:
  const SideContext& context_;
  int stage_;
  bool constant_;
  int n_;
  std::vector<float> xyz_;
  Row3 row_;
};

/// The ink a region lies on, as it is at a stage; none for paper. `known` false: it can't be had.
std::optional<Eigen::Vector3d> ink_under(const SideContext& context, const Region& region,
                                         int stage, bool& known) {
  known = true;
  if (region.under == "paper") return std::nullopt;
  const int under = find_region(*context.side, region.under);
  known = under >= 0 &&
          context.usable[static_cast<std::size_t>(under)][static_cast<std::size_t>(stage)];
  if (!known) return std::nullopt;
  const cv::Mat& xyz = context.side->layers[static_cast<std::size_t>(stage)].xyz;
  return Eigen::Vector3d(sharpening() *
                         weighted_mean(xyz, context.weights[static_cast<std::size_t>(under)]));
}

/// Absorption of a cell above what lies under it.
struct Above {
  float ks = 0, density = 0;
  void add(float here, float under) {
    ks += change::ks(here) - change::ks(under);
    density += change::density(here) - change::density(under);
  }
  [[nodiscard]] float by(InkLaw law) const { return law == InkLaw::film ? density : ks; }
};

void map_region(const SideContext& context, const region::Mask& mask, InkLaw law, int from, int to,
                float limit, cv::Mat& out) {
  const SideInput& side = *context.side;
  bool known_from = false, known_to = false;
  const auto ink_from = ink_under(context, *mask.region, from, known_from),
             ink_to = ink_under(context, *mask.region, to, known_to);
  if (!known_from || !known_to) return;
  Under below_from(context, ink_from, from), below_to(context, ink_to, to);
  const Layer &a = side.layers[static_cast<std::size_t>(from)],
              &b = side.layers[static_cast<std::size_t>(to)];
  LayerRows rows_a(a), rows_b(b);
  for (int y = mask.bounds.y; y < mask.bounds.br().y; ++y) {
    const Row3 &pa = below_from.at(y), &pb = below_to.at(y), &ra = rows_a.at(y).sharp,
               &rb = rows_b.at(y).sharp;
    const uchar *inside = mask.inside.ptr<uchar>(y - mask.bounds.y), *va = a.valid.ptr<uchar>(y),
                *vb = b.valid.ptr<uchar>(y);
    for (int x = mask.bounds.x; x < mask.bounds.br().x; ++x) {
      if (inside[x - mask.bounds.x] == 0 || (va[x] & vb[x]) == 0) continue;
      Above before, after;
      for (int c = 0; c < 3; ++c) before.add(ra[c][x], pa[c][x]), after.add(rb[c][x], pb[c][x]);
      if (!(before.ks > limit) || !(before.by(law) > 0)) continue;
      const float seen = after.by(law) / before.by(law);
      const double band =
          band_error(law, static_cast<double>(before.by(law)), static_cast<double>(seen)).mean;
      out.at<float>(y, x) = std::max(0.0F, seen - static_cast<float>(band));
    }
  }
}

}  // namespace

cv::Mat map_residual(const SideContext& context, InkLaw law, int from, int to, float limit) {
  cv::Mat out;
  for (const region::Mask& mask : context.side->regions) {
    if (mask.region->role != Role::added) continue;
    if (out.empty())
      out = cv::Mat(context.side->geometry.size(), CV_32FC1,
                    cv::Scalar(std::numeric_limits<double>::quiet_NaN()));
    map_region(context, mask, law, from, to, limit, out);
  }
  return out;
}

}  // namespace inkwane::change
