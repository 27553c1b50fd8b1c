#include "finding/fast_fading.hpp"

#include <algorithm>
#include <limits>
#include <optional>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

namespace inkwane::finding {
namespace {

constexpr double kLeastMm2 = 1;
constexpr float kSure = 3;  // standard uncertainties
/// Inks do not give way evenly: this much less than the weakest named one is still the print.
constexpr float kUneven = 0.08F;
/// Where no ink is named, that of the print's share which kept least is taken for the weakest ink.
constexpr double kWeakestShare = 0.2;
constexpr float kUnknownInks = 0.15F;
/// Σ absorption above the paper from which there is colour that could be lost.
constexpr float kLeastColour = 0.06F;
/// Channels that take less than this share of an ink's strongest tell nothing of it.
constexpr float kCounted = 0.3F;
/// Relief of a misfit, as change/pair_rows: the gradient is steepest between the cells, and no
/// alignment is better than this (mm).
constexpr float kMisfitFactor2 = 2, kLeastMisfitMm = 0.01F;

constexpr std::array<Law, 2> kLaws{Law::kubelka_munk, Law::film};

/// One pair of stages, block by block.
class Response {
 public:
  Response(const SheetView& view, const FirstStage& first, int to)
      : view_(view),
        first_(first),
        to_(to),
        sharp_(block_sharp(view, to)),
        paper_(sheet_paper(view, to)),
        noise_(view.context().drift[static_cast<std::size_t>(to)]) {
    for (std::size_t l = 0; l < kLaws.size(); ++l) least_kept_[l] = weakest_ink(kLaws[l]);
  }

  [[nodiscard]] cv::Mat fast() const {
    cv::Mat fast(sharp_.size(), CV_8UC1, cv::Scalar(0));
    cv::parallel_for_({1, sharp_.rows - 1}, [&](const cv::Range& range) {
      for (int y = range.start; y < range.end; ++y) {
        for (int x = 1; x < sharp_.cols - 1; ++x) {
          if (first_.named.added.at<uchar>(y, x) != 0 || first_.named.other.at<uchar>(y, x) != 0)
            continue;
          if (is_fast(y, x)) fast.at<uchar>(y, x) = 255;
        }
      }
    });
    return fast;
  }

  /// Share of its strength that a patch kept, in the channel that kept least.
  [[nodiscard]] float kept(const Patch& patch) const {
    return least_channel(mean_over(first_.sharp, patch), first_.paper, mean_over(sharp_, patch),
                         paper_, Law::kubelka_munk)
        .value_or(1);
  }
  /// What the weakest of the print's inks kept.
  [[nodiscard]] float print_kept() const { return least_kept_[0]; }

  /// Median share kept of blocks outside the patch that had its colour, and how many.
  [[nodiscard]] std::pair<float, int> kept_elsewhere(const Patch& patch) const {
    const cv::Vec3f lab = mean_over(first_.lab, patch);
    std::vector<float> kept;
    for (int y = 0; y < sharp_.rows; y += 2) {
      for (int x = 0; x < sharp_.cols; x += 2) {
        if (patch.bounds.contains({x, y}) || first_.named.added.at<uchar>(y, x) != 0) continue;
        const cv::Vec3f d = first_.lab.at<cv::Vec3f>(y, x) - lab;
        if (!(d.dot(d) < kAlikeLab * kAlikeLab)) continue;
        const auto k = least_channel(at(first_.sharp, y, x), first_.paper, at(sharp_, y, x), paper_,
                                     Law::kubelka_munk);
        if (k) kept.push_back(*k);
      }
    }
    if (kept.empty()) return {1, 0};
    const auto middle = kept.begin() + static_cast<std::ptrdiff_t>(kept.size() / 2);
    std::nth_element(kept.begin(), middle, kept.end());
    return {*middle, 4 * static_cast<int>(kept.size())};
  }

 private:
  const SheetView& view_;
  const FirstStage& first_;
  int to_;
  cv::Mat sharp_;
  cv::Vec3f paper_;
  const change::Drift& noise_;
  std::array<float, 2> least_kept_{1, 1};

  static const cv::Vec3f& at(const cv::Mat& picture, int y, int x) {
    return picture.at<cv::Vec3f>(y, x);
  }

  /// Share kept in the channel that kept least, of those in which there was enough.
  static std::optional<float> least_channel(const cv::Vec3f& a, const cv::Vec3f& paper_a,
                                            const cv::Vec3f& b, const cv::Vec3f& paper_b, Law law) {
    const cv::Vec3f before = absorbed_above(law, a, paper_a),
                    after = absorbed_above(law, b, paper_b);
    const float most = std::max({before[0], before[1], before[2]});
    if (!(before[0] + before[1] + before[2] > kLeastColour)) return std::nullopt;
    float least = std::numeric_limits<float>::max();
    for (int c = 0; c < 3; ++c) {
      if (before[c] > kCounted * most) least = std::min(least, after[c] / before[c]);
    }
    return least;
  }

  [[nodiscard]] float weakest_ink(Law law) const {
    const auto& context = view_.context();
    float least = std::numeric_limits<float>::max();
    for (std::size_t i = 0; i < view_.input->regions.size(); ++i) {
      if (view_.input->regions[i].region->role != Role::ink || !context.usable[i].front() ||
          !context.usable[i][static_cast<std::size_t>(to_)])
        continue;
      const auto mean = [&](int stage) {
        const Eigen::Vector3f s =
            (change::sharpening() *
             change::weighted_mean(view_.layer(stage).xyz, context.weights[i]))
                .cast<float>();
        return cv::Vec3f(s[0], s[1], s[2]);
      };
      const auto kept = least_channel(mean(0), first_.paper, mean(to_), paper_, law);
      if (kept) least = std::min(least, *kept);
    }
    if (least < std::numeric_limits<float>::max()) return std::min(1.0F, least) - kUneven;
    return std::min(0.95F, weakest_part(law)) - kUnknownInks;
  }

  [[nodiscard]] float weakest_part(Law law) const {
    std::vector<float> kept;
    for (int y = 0; y < sharp_.rows; y += 4) {
      for (int x = 0; x < sharp_.cols; x += 4) {
        if (first_.named.added.at<uchar>(y, x) != 0) continue;
        const auto k =
            least_channel(at(first_.sharp, y, x), first_.paper, at(sharp_, y, x), paper_, law);
        if (k) kept.push_back(*k);
      }
    }
    if (kept.empty()) return 1;
    const auto weakest = kept.begin() + static_cast<std::ptrdiff_t>(
                                            kWeakestShare * static_cast<double>(kept.size()));
    std::nth_element(kept.begin(), weakest, kept.end());
    return *weakest;
  }

  /// Variance of the change of a channel's K/S: noise, drift, and misfit × gradient.
  [[nodiscard]] float variance(int y, int x, int c) const {
    const float a = at(first_.sharp, y, x)[c], b = at(sharp_, y, x)[c];
    const float sa = change::ks_slope(a), sb = change::ks_slope(b);
    const auto place = static_cast<float>(noise_.place(c, c));
    float sum = 0.5F * (sa * sa + sb * sb) * (noise_.noise.variance(a) + place * a * a);
    const int block = block_of(view_);
    const auto mm = static_cast<float>(block * view_.input->geometry.pitch_mm);
    const cv::Mat& misfit_mm = view_.layer(to_).misfit_mm;
    const float misfit = misfit_mm.empty()
                             ? 0
                             : misfit_mm.at<float>(std::min(y * block, misfit_mm.rows - 1),
                                                   std::min(x * block, misfit_mm.cols - 1));
    const float u = std::max(misfit == misfit ? misfit : 0, kLeastMisfitMm) / mm;
    const auto slope = [&](int dy, int dx) {
      return (change::ks(at(first_.sharp, y + dy, x + dx)[c]) -
              change::ks(at(first_.sharp, y - dy, x - dx)[c])) /
             2;
    };
    const float gx = slope(0, 1), gy = slope(1, 0);
    sum += kMisfitFactor2 * u * u * (gx * gx + gy * gy);
    return sum;
  }

  [[nodiscard]] bool is_fast(int y, int x) const {
    const auto &a = at(first_.sharp, y, x), &b = at(sharp_, y, x);
    if (!(a[0] == a[0] && b[0] == b[0])) return false;
    std::array<float, 2> excess{};
    float square = 0;
    cv::Vec3f expected = b;
    for (std::size_t l = 0; l < kLaws.size(); ++l) {
      const cv::Vec3f before = absorbed_above(kLaws[l], a, first_.paper),
                      after = absorbed_above(kLaws[l], b, paper_);
      if (!(before[0] + before[1] + before[2] > kLeastColour)) return false;
      for (int c = 0; c < 3; ++c) {
        const float e = least_kept_[l] * before[c] - after[c];
        if (e <= 0) continue;
        excess[l] += e;
        if (kLaws[l] != Law::kubelka_munk) continue;
        expected[c] = change::reflectance(change::ks(b[c]) + e);
        square += variance(y, x, c);
      }
      if (excess[l] <= 0) return false;
    }
    if (excess[0] * excess[0] < kSure * kSure * square) return false;
    return ciede2000(lab_of_sharp(expected), lab_of_sharp(b)) >= kLeastLoss;
  }
};

}  // namespace

std::vector<Candidate> find_fast_fading(const SheetView& view, const FirstStage& first, int to) {
  const Response response(view, first, to);
  cv::Mat fast = response.fast();
  cv::morphologyEx(fast, fast, cv::MORPH_CLOSE, cv::Mat::ones(3, 3, CV_8UC1));
  cv::morphologyEx(fast, fast, cv::MORPH_OPEN, cv::Mat::ones(3, 3, CV_8UC1));
  std::vector<Candidate> candidates;
  for (const Patch& patch :
       patches_of(fast, static_cast<int>(std::ceil(kLeastMm2 / block_mm2(view))))) {
    const float kept = std::max(0.0F, response.kept(patch)),
                print = response.print_kept() + kUneven;
    const Elsewhere other = elsewhere(view, first, patch, mean_over(first.lab, patch));
    const auto [other_kept, blocks] = response.kept_elsewhere(patch);
    const bool differs = blocks * block_mm2(view) > 3 && other_kept - kept > 0.15F;
    const double margin = std::clamp((print - kept) / print, 0.0F, 1.0F);
    Candidate candidate{patch, 0, "", view.layer(0).stage, view.layer(to).stage};
    candidate.score = (0.35 + 0.6 * margin) * (differs ? 1 : rarity(view, patch, other));
    candidate.reason =
        fmt::format("{} → {} it lost {:.0f} % of its strength, {}", candidate.from, candidate.to,
                    100 * (1 - kept),
                    differs ? fmt::format("the same colour elsewhere on the sheet {:.0f} %",
                                          100 * std::max(0.0F, 1 - other_kept))
                            : fmt::format("the weakest of the print's inks {:.0f} %",
                                          100 * std::max(0.0F, 1 - print)));
    candidates.push_back(std::move(candidate));
  }
  return candidates;
}

}  // namespace inkwane::finding
