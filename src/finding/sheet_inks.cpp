#include "finding/sheet_inks.hpp"

#include <algorithm>
#include <list>
#include <map>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "change/regions.hpp"
#include "finding/coarse.hpp"
#include "finding/colour_words.hpp"
#include "finding/half_millimetre.hpp"
#include "finding/print_colours.hpp"

namespace inkwane::finding {
namespace {

/// Σ K/S above the paper from which a place is inked; above show-through of a solid.
constexpr float kInked = 0.12F;
/// Two absorptions are one ink within this angle; about it, for its middle. cos 9° and cos 5°.
constexpr float kOneInk = 0.988F, kMiddle = 0.996F;
constexpr double kLeastMm2 = 10, kLeastShare = 0.002;
constexpr int kMostInks = 12;
/// Cells whose colour is not mixed with what lies beside them: Lab of all neighbours within this.
constexpr float kEven = 8;

class Clusters {
 public:
  Clusters(const SheetView& view, const results::Findings& findings)
      : view_(view), coarse_(half_millimetre(*view.input)) {
    const change::Layer& first = coarse_.side.layers.front();
    above_.create(first.xyz.size(), CV_32FC3);
    lab_.create(first.xyz.size(), CV_32FC3);
    label_ = cv::Mat(first.xyz.size(), CV_8UC1, cv::Scalar(kNone));
    const Eigen::Matrix3f sharpening = change::sharpening().cast<float>();
    const cv::Vec3f paper = sheet_paper(view, 0);
    const cv::Mat open = open_cells(findings);
    for (int y = 0; y < lab_.rows; ++y) {
      for (int x = 0; x < lab_.cols; ++x) {
        const auto& xyz = first.xyz.at<cv::Vec3f>(y, x);
        const Eigen::Vector3f s = sharpening * Eigen::Vector3f(xyz[0], xyz[1], xyz[2]);
        cv::Vec3f& above = above_.at<cv::Vec3f>(y, x);
        above = absorbed_above(Law::kubelka_munk, {s[0], s[1], s[2]}, paper);
        for (int c = 0; c < 3; ++c) above[c] = std::max(0.0F, above[c]);
        const LabD50 lab = to_lab({xyz[0], xyz[1], xyz[2]});
        lab_.at<cv::Vec3f>(y, x) = {static_cast<float>(lab.L), static_cast<float>(lab.a),
                                    static_cast<float>(lab.b)};
        const bool inked = above[0] + above[1] + above[2] > kInked;
        if (inked && open.at<uchar>(y, x) != 0) label_.at<uchar>(y, x) = kFree;
      }
    }
    even_ = even();
    find();
  }

  [[nodiscard]] const CoarseSide& coarse() const { return coarse_; }
  [[nodiscard]] int count() const { return static_cast<int>(directions_.size()); }
  [[nodiscard]] cv::Mat all_of(int ink) const { return label_ == ink; }
  /// Its cells that are of it alone; all of them where it is printed in fine lines only.
  [[nodiscard]] cv::Mat measured_of(int ink) const {
    const cv::Mat all = all_of(ink), even = all & even_;
    return cv::countNonZero(even) * cell_mm2() >= kLeastMm2 / 4 ? even : all;
  }
  [[nodiscard]] double cell_mm2() const { return coarse_.side.geometry.cell_mm2(); }

 private:
  static constexpr int kNone = 255, kFree = 254;
  const SheetView& view_;
  CoarseSide coarse_;
  cv::Mat above_, lab_, label_, even_;
  std::vector<cv::Vec3f> directions_;

  /// Measured cells of the sheet that are no added colour, named or suspected.
  [[nodiscard]] cv::Mat open_cells(const results::Findings& findings) const {
    cv::Mat open = coarse_.side.layers.front().valid & coarse_.side.sheet;
    cv::Mat added;
    cv::resize(named_blocks(view_).added, added, open.size(), 0, 0, cv::INTER_NEAREST);
    open.setTo(0, added);
    for (const results::Suspect& suspect : findings.suspects) {
      if (suspect.place.side != view_.input->side) continue;
      std::vector<cv::Point> outline;
      for (const Point& px : suspect.place.outline) {
        const Point cell = coarse_.side.geometry.to_cell(px);
        outline.emplace_back(cvRound(cell.x), cvRound(cell.y));
      }
      const std::vector<std::vector<cv::Point>> outlines{outline};
      cv::fillPoly(open, outlines, cv::Scalar(0));
      cv::polylines(open, outlines, true, cv::Scalar(0), 3);
    }
    return open;
  }

  [[nodiscard]] cv::Mat even() const {
    cv::Mat even(lab_.size(), CV_8UC1, cv::Scalar(0));
    for (int y = 1; y < lab_.rows - 1; ++y) {
      for (int x = 1; x < lab_.cols - 1; ++x) {
        const cv::Vec3f here = lab_.at<cv::Vec3f>(y, x);
        bool flat = true;
        for (const cv::Point step :
             {cv::Point(1, 0), cv::Point(-1, 0), cv::Point(0, 1), cv::Point(0, -1)})
          flat = flat && cv::norm(lab_.at<cv::Vec3f>(y + step.y, x + step.x) - here) <
                             static_cast<double>(kEven);
        even.at<uchar>(y, x) = flat ? 255 : 0;
      }
    }
    return even;
  }

  /// The heaviest direction of what belongs to no ink yet, of even cells before all others.
  [[nodiscard]] bool heaviest(const cv::Mat& among, cv::Vec3f& direction) const {
    constexpr int kBins = 24;
    std::map<int, double> weight;
    const auto bin = [](const cv::Vec3f& a) {
      const float sum = a[0] + a[1] + a[2];
      return static_cast<int>(a[0] / sum * kBins) * (kBins + 1) +
             static_cast<int>(a[1] / sum * kBins);
    };
    double all = 0;
    for_free(among, [&](const cv::Vec3f& a) { weight[bin(a)] += 1, all += 1; });
    if (all * cell_mm2() < kLeastMm2) return false;
    const auto top =
        std::max_element(weight.begin(), weight.end(),
                         [](const auto& p, const auto& q) { return p.second < q.second; });
    cv::Vec3d sum(0, 0, 0);
    for_free(among, [&](const cv::Vec3f& a) {
      if (bin(a) == top->first) sum += cv::Vec3d(a) / cv::norm(a);
    });
    for (int round = 0; round < 3; ++round) {
      direction = cv::Vec3f(sum / cv::norm(sum));
      cv::Vec3d about(0, 0, 0);
      for_free(among, [&](const cv::Vec3f& a) {
        if (likeness(a, direction) > kMiddle) about += cv::Vec3d(a) / cv::norm(a);
      });
      if (cv::norm(about) > 0) sum = about;
    }
    return true;
  }

  template <typename Visit>
  void for_free(const cv::Mat& among, const Visit& visit) const {
    for (int y = 0; y < label_.rows; ++y) {
      for (int x = 0; x < label_.cols; ++x) {
        if (label_.at<uchar>(y, x) == kFree && among.at<uchar>(y, x) != 0)
          visit(above_.at<cv::Vec3f>(y, x));
      }
    }
  }

  void assign() {
    for (int y = 0; y < label_.rows; ++y) {
      for (int x = 0; x < label_.cols; ++x) {
        uchar& label = label_.at<uchar>(y, x);
        if (label == kNone) continue;
        float best = kOneInk;
        label = kFree;
        for (std::size_t i = 0; i < directions_.size(); ++i) {
          const float like = likeness(above_.at<cv::Vec3f>(y, x), directions_[i]);
          if (like > best) best = like, label = static_cast<uchar>(i);
        }
      }
    }
  }

  void find() {
    const cv::Mat anywhere(label_.size(), CV_8UC1, cv::Scalar(255));
    const double least =
        std::max(kLeastMm2, kLeastShare * cv::countNonZero(coarse_.side.sheet) * cell_mm2());
    for (const cv::Mat& among : {even_, anywhere}) {
      cv::Vec3f direction;
      while (count() < kMostInks && heaviest(among, direction)) {
        directions_.push_back(direction);
        assign();
        const int cells = cv::countNonZero(all_of(count() - 1) & among);
        if (cells * cell_mm2() >= least) continue;
        directions_.pop_back();
        assign();
        break;
      }
    }
  }
};

/// One cluster as a region that can be measured as any other.
class AsRegions {
 public:
  explicit AsRegions(const Clusters& clusters) : side_(clusters.coarse().side) {
    context_ = change::make_context(side_);
    context_.side = &side_;
    for (int ink = 0; ink < clusters.count(); ++ink) {
      const cv::Mat cells = clusters.measured_of(ink);
      Region& record = records_.emplace_back();
      record.id = fmt::format("ink {}", ink + 1);
      record.role = Role::ink;
      region::Mask mask{&record, cv::boundingRect(cells), {}, 0};
      mask.inside = cells(mask.bounds).clone();
      add_weights(mask);
      side_.regions.push_back(std::move(mask));
    }
  }
  AsRegions(const AsRegions&) = delete;
  AsRegions& operator=(const AsRegions&) = delete;

  /// `law`: what the named regions said of the law of inks, which these places only join.
  [[nodiscard]] std::vector<results::Region> measured(change::SheetEvidence law) const {
    const auto pairs = change::stage_pairs(static_cast<int>(side_.layers.size()));
    return change::assess_regions(context_, pairs, law).regions;
  }
  [[nodiscard]] bool any() const { return context_.paper.found && !side_.regions.empty(); }

 private:
  std::list<Region> records_;
  change::SideInput side_;
  change::SideContext context_;

  void add_weights(const region::Mask& mask) {
    change::RegionWeights weights;
    weights.bounds = mask.bounds;
    mask.inside.convertTo(weights.weight, CV_32F, 1.0 / 255);
    const double cells = cv::sum(weights.weight)[0];
    weights.weight /= cells;
    weights.noise_gain = 1 / cells;  // cells of half a millimetre hardly share their noise
    std::vector<bool> usable;
    for (const change::Layer& layer : side_.layers) {
      const int seen = cv::countNonZero(mask.inside & layer.valid(mask.bounds));
      usable.push_back(2 * seen >= cv::countNonZero(mask.inside));
    }
    context_.weights.push_back(std::move(weights));
    context_.usable.push_back(std::move(usable));
  }
};

/// Where least of an ink was kept, over a square of three cells.
void find_worst(const SheetView& view, const Clusters& clusters, int ink, int from, int to,
                results::InkChange& change) {
  constexpr int kEnough = 5;
  const change::SideInput& side = clusters.coarse().side;
  const cv::Mat cells = clusters.measured_of(ink);
  const Eigen::Matrix3f sharpening = change::sharpening().cast<float>();
  const cv::Vec3f paper_from = sheet_paper(view, from), paper_to = sheet_paper(view, to);
  const auto absorbed = [&](int stage, int y, int x, const cv::Vec3f& paper) {
    const auto& v = side.layers[static_cast<std::size_t>(stage)].xyz.at<cv::Vec3f>(y, x);
    const Eigen::Vector3f s = sharpening * Eigen::Vector3f(v[0], v[1], v[2]);
    const cv::Vec3f a = absorbed_above(Law::kubelka_munk, {s[0], s[1], s[2]}, paper);
    return a[0] + a[1] + a[2];
  };
  for (int y = 1; y < cells.rows - 1; ++y) {
    for (int x = 1; x < cells.cols - 1; ++x) {
      if (cells.at<uchar>(y, x) == 0) continue;
      double before = 0, after = 0;
      int n = 0;
      for (int j = y - 1; j <= y + 1; ++j) {
        for (int i = x - 1; i <= x + 1; ++i) {
          if (cells.at<uchar>(j, i) == 0) continue;
          const float a = absorbed(from, j, i, paper_from), b = absorbed(to, j, i, paper_to);
          if (!(a == a && b == b)) continue;
          before += static_cast<double>(a), after += static_cast<double>(b), ++n;
        }
      }
      if (n < kEnough || before <= 0) continue;
      const double kept = std::max(0.0, after / before);
      if (change.worst_kept && *change.worst_kept <= kept) continue;
      change.worst_kept = kept;
      change.worst_at_mm = view.to_mm(clusters.coarse().fine(x, y));
    }
  }
}

}  // namespace

void find_sheet_inks(const SheetView& view, results::Findings& findings) {
  const Clusters clusters(view, findings);
  if (clusters.count() == 0) return;
  const AsRegions regions(clusters);
  if (!regions.any()) return;
  const auto pairs = change::stage_pairs(static_cast<int>(view.input->layers.size()));
  std::vector<results::SheetInk> inks;
  const std::vector<results::Region> measured = regions.measured(view.output->inks);
  for (std::size_t i = 0; i < measured.size(); ++i) {
    if (measured[i].stages.empty()) continue;
    results::SheetInk ink;
    ink.side = view.input->side;
    ink.lab = measured[i].stages.front().second.lab;
    ink.name = colour_words(ink.lab);
    const int number = static_cast<int>(i);
    ink.area_mm2 = cv::countNonZero(clusters.all_of(number)) * clusters.cell_mm2();
    for (std::size_t p = 0; p < pairs.size(); ++p) {
      const results::RegionChange& from = measured[i].changes[p];
      results::InkChange& change = ink.changes.emplace_back();
      change.from = from.from;
      change.to = from.to;
      change.mean_kept = from.strength_kept;
      change.mean_kept_ci95 = from.strength_kept_ci95;
      find_worst(view, clusters, number, pairs[p].first, pairs[p].second, change);
    }
    inks.push_back(std::move(ink));
  }
  std::stable_sort(inks.begin(), inks.end(),
                   [](const auto& a, const auto& b) { return a.area_mm2 > b.area_mm2; });
  std::map<std::string, int> used;
  for (results::SheetInk& ink : inks) {
    const int number = ++used[ink.name];
    if (number > 1) ink.name += fmt::format(" ({})", number);
    findings.inks.push_back(std::move(ink));
  }
}

}  // namespace inkwane::finding
