#include "finding/still_shows.hpp"

#include <algorithm>

#include <opencv2/imgproc.hpp>

#include "change/colour_space.hpp"
#include "finding/bare_paper.hpp"
#include "grid/disc.hpp"

namespace inkwane::finding {
namespace {

/// CIEDE2000 from which a patch is said to show: about the 50:50 threshold of perception, 0.8 in
/// Paravina et al. 2015 (dental ceramics; from a secondary source), rounded up.
constexpr double kShows = 1.0;
/// Smaller patches are the paper's own grain. Patches closer than this are one.
constexpr double kLeastMm2 = 0.25, kApartMm = 0.3;

/// XYZ of what should be there, cell by cell.
class Under {
 public:
  Under(const SheetView& view, const Region& region, int stage) : view_(view), stage_(stage) {
    xyz_.resize(static_cast<std::size_t>(view.input->geometry.columns));
    if (region.under == "paper") return;
    over_ink_ = true;
    const int ink = change::find_region(*view.input, region.under);
    const auto at = static_cast<std::size_t>(ink);
    if (ink < 0 || !view.context().usable[at][static_cast<std::size_t>(stage)]) {
      known_ = false;
      return;
    }
    const Eigen::Vector3d mean =
        change::weighted_mean(view.layer(stage).xyz, view.context().weights[at]);
    std::fill(xyz_.begin(), xyz_.end(), cv::Vec3f(mean.cast<float>().eval().data()));
  }
  [[nodiscard]] bool known() const { return known_; }
  const std::vector<cv::Vec3f>& row(int y) {
    if (!over_ink_)
      view_.context().paper.xyz_row(stage_, y, static_cast<int>(xyz_.size()), xyz_.front().val);
    return xyz_;
  }

 private:
  const SheetView& view_;
  int stage_;
  bool over_ink_ = false, known_ = true;
  std::vector<cv::Vec3f> xyz_;
};

struct Sums {
  cv::Vec3d here, around;
  double cells = 0, before = 0, after = 0;
};

double absorption(const cv::Vec3f& xyz, const cv::Vec3f& under) {
  const Eigen::Vector3d a = change::sharpened({xyz[0], xyz[1], xyz[2]}),
                        b = change::sharpened({under[0], under[1], under[2]});
  double sum = 0;
  for (int c = 0; c < 3; ++c)
    sum += static_cast<double>(change::ks(static_cast<float>(a[c])) -
                               change::ks(static_cast<float>(b[c])));
  return sum;
}

LabD50 lab_of(const cv::Vec3d& xyz) {
  return to_lab({xyz[0], xyz[1], xyz[2]});
}

float median_within(const cv::Mat& values, const cv::Mat& inside) {
  std::vector<float> within;
  for (int y = 0; y < values.rows; ++y) {
    for (int x = 0; x < values.cols; ++x) {
      if (inside.at<uchar>(y, x) != 0) within.push_back(values.at<float>(y, x));
    }
  }
  const auto middle = within.begin() + static_cast<std::ptrdiff_t>(within.size() / 2);
  std::nth_element(within.begin(), middle, within.end());
  return *middle;
}

class RegionPatches {
 public:
  RegionPatches(const SheetView& view, const region::Mask& mask, int stage)
      : view_(view),
        mask_(mask),
        stage_(stage),
        now_(view, *mask.region, stage),
        before_(view, *mask.region, 0) {}

  void find(double limit, std::vector<results::StillShows>& found) {
    if (!now_.known()) return;
    const cv::Mat contrast = contrasts();
    const double mm = view_.input->geometry.pitch_mm;
    cv::Mat joined;
    cv::morphologyEx(contrast >= limit, joined, cv::MORPH_CLOSE,
                     grid::disc(static_cast<int>(std::ceil(kApartMm / 2 / mm))));
    joined &= mask_.inside;
    const int least = static_cast<int>(std::ceil(kLeastMm2 / (mm * mm)));
    for (const Patch& patch : patches_of(joined, least)) {
      const Sums sums = sum(patch, contrast(patch.bounds));
      results::StillShows record;
      record.stage = view_.layer(stage_).stage;
      record.region = mask_.region->id;
      record.place = place_of(view_, patch, mask_.bounds.tl(), 1);
      record.lab = lab_of(sums.here / sums.cells);
      record.around = lab_of(sums.around / sums.cells);
      record.contrast_dE00 = ciede2000(record.lab, record.around);
      if (sums.before > 0) record.residual = std::max(0.0, sums.after / sums.before);
      if (record.contrast_dE00 >= limit) found.push_back(std::move(record));
    }
  }

 private:
  const SheetView& view_;
  const region::Mask& mask_;
  int stage_;
  Under now_, before_;

  [[nodiscard]] bool measured(int stage, int y, int x) const {
    return view_.layer(stage).valid.at<uchar>(y, x) != 0;
  }

  /// CIEDE2000 of each cell of the region against what should be there; 0 where not measured.
  cv::Mat contrasts() {
    const cv::Rect& at = mask_.bounds;
    cv::Mat contrast(at.size(), CV_32FC1, cv::Scalar(0));
    for (int y = 0; y < at.height; ++y) {
      const auto& under = now_.row(at.y + y);
      const auto* xyz = view_.layer(stage_).xyz.ptr<cv::Vec3f>(at.y + y);
      for (int x = 0; x < at.width; ++x) {
        if (mask_.inside.at<uchar>(y, x) == 0 || !measured(stage_, at.y + y, at.x + x)) continue;
        contrast.at<float>(y, x) = static_cast<float>(
            ciede2000(lab_of(xyz[at.x + x]), lab_of(under[static_cast<std::size_t>(at.x + x)])));
      }
    }
    return contrast;
  }

  /// Over the stronger half of a patch: its rim is mixed with what lies beside it.
  Sums sum(const Patch& patch, const cv::Mat& contrast) {
    const float least = median_within(contrast, patch.inside);
    Sums sums;
    for (int y = 0; y < patch.bounds.height; ++y) {
      const int row = mask_.bounds.y + patch.bounds.y + y;
      const auto& under = now_.row(row);
      const auto& under_before = before_.row(row);
      const auto* xyz = view_.layer(stage_).xyz.ptr<cv::Vec3f>(row);
      const auto* first = view_.layer(0).xyz.ptr<cv::Vec3f>(row);
      for (int x = 0; x < patch.bounds.width; ++x) {
        const int column = mask_.bounds.x + patch.bounds.x + x;
        if (patch.inside.at<uchar>(y, x) == 0 || contrast.at<float>(y, x) < least) continue;
        const auto at = static_cast<std::size_t>(column);
        sums.here += cv::Vec3d(xyz[column]);
        sums.around += cv::Vec3d(under[at]);
        sums.cells += 1;
        if (!before_.known() || !measured(0, row, column)) continue;
        sums.after += absorption(xyz[column], under[at]);
        sums.before += absorption(first[column], under_before[at]);
      }
    }
    return sums;
  }
};

}  // namespace

void find_still_shows(const SheetView& view, results::Findings& findings) {
  if (!view.measured()) return;
  const bool any = std::any_of(view.input->regions.begin(), view.input->regions.end(),
                               [](const auto& mask) { return mask.region->role == Role::added; });
  if (!any) return;
  for (int stage = 1; stage < static_cast<int>(view.input->layers.size()); ++stage) {
    const double limit = std::max(kShows, bare_paper_contrast(view, stage));
    for (const region::Mask& mask : view.input->regions) {
      if (mask.region->role == Role::added)
        RegionPatches(view, mask, stage).find(limit, findings.still_shows);
    }
    findings.limits.push_back({"still_shows", view.input->side, view.layer(0).stage,
                               view.layer(stage).stage, limit, kLeastMm2, 0});
  }
}

}  // namespace inkwane::finding
