#include "finding/odd_colours.hpp"

#include <algorithm>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "change/screen_reading.hpp"
#include "finding/bare_paper.hpp"
#include "finding/print_colours.hpp"

namespace inkwane::finding {
namespace {

/// Against the paper: above its grain, stains and what shows through.
constexpr double kLeastContrast = 4, kOfPaper = 2;
/// A colour is even where Lab moves by less than this over 0.4 mm either way.
constexpr float kEven = 8;
constexpr double kLeastMm2 = 1;
/// More patches than a person would look through; the largest are kept.
constexpr std::size_t kMostPatches = 40;

// Weights of what speaks for added colour; they add up to 1. Chosen on simulated sheets so that a
// patch for which only its odd colour speaks stays below one half.
constexpr double kOdd = 0.35, kLikeAdded = 0.35, kOutside = 0.2, kNoScreen = 0.25;
constexpr double kNoInks = 0.5;  ///< factor, where no ink is named to compare with
constexpr double kStain = 0.55;  ///< factor, of what may be toned or foxed paper
constexpr float kStainLike = 0.985F, kAddedLike = 0.985F;  // cosines: 10°
constexpr double kOutsideDegrees = 6;
/// L* from which a printed colour must be a tint.
constexpr float kPale = 60;

cv::Mat even_blocks(const cv::Mat& lab) {
  constexpr int kReach = 2;
  cv::Mat even(lab.size(), CV_8UC1, cv::Scalar(0));
  for (int y = kReach; y < lab.rows - kReach; ++y) {
    const auto *row = lab.ptr<cv::Vec3f>(y), *above = lab.ptr<cv::Vec3f>(y - kReach),
               *below = lab.ptr<cv::Vec3f>(y + kReach);
    uchar* out = even.ptr<uchar>(y);
    for (int x = kReach; x < lab.cols - kReach; ++x) {
      bool flat = true;
      for (const cv::Vec3f& other : {row[x - kReach], row[x + kReach], above[x], below[x]}) {
        const cv::Vec3f d = other - row[x];
        flat = flat && d.dot(d) < kEven * kEven;  // NaN fails the comparison
      }
      out[x] = flat ? 255 : 0;
    }
  }
  return even;
}

/// Whether the print's own tints have screens that this scan resolves.
bool print_is_screened(const SheetView& view) {
  for (const results::Region& region : view.output->regions) {
    for (const results::Screen& screen : region.screens) {
      if (screen.lpi < change::kFinest * view.layer(0).pixels.resolution_dpi) return true;
    }
  }
  return false;
}

/// Screens in the patch's own pixels at the first stage; none where they could not be had, or
/// where the print's are not known and a usual one would be too fine for the scan.
std::optional<bool> has_screen(const SheetView& view, const results::Place& place, bool screened) {
  const change::ScanPixels& scan = view.layer(0).pixels;
  if (scan.scan == nullptr) return std::nullopt;
  Region region;
  region.polygon = place.outline;
  const auto& g = view.input->geometry;
  std::vector<cv::Point2f> cells;
  for (const Point& p : place.outline) {
    const Point cell = g.to_cell(p);
    cells.emplace_back(static_cast<float>(cell.x), static_cast<float>(cell.y));
  }
  region::Mask mask{&region, cv::boundingRect(cells) & cv::Rect({}, g.size()), {}, place.area_mm2};
  mask.inside = cv::Mat(mask.bounds.size(), CV_8UC1, cv::Scalar(0));
  std::vector<cv::Point> corners;
  for (const cv::Point2f& p : cells)
    corners.emplace_back(cvRound(p.x) - mask.bounds.x, cvRound(p.y) - mask.bounds.y);
  cv::fillPoly(mask.inside, std::vector<std::vector<cv::Point>>{corners}, cv::Scalar(255));
  const auto pixels = change::read_region(mask, g, scan);
  if (!pixels) return std::nullopt;
  const bool jpeg = scan.scan->info().format == scan::Format::jpeg;
  const change::Lattices lattices = change::ScreenSpectrum(*pixels).find(scan.resolution_dpi, jpeg);
  if (lattices.more || !lattices.found.empty()) return true;
  const bool fine_enough = change::kMostLpi / scan.resolution_dpi < change::kFinest;
  return screened || fine_enough ? std::optional(false) : std::nullopt;
}

/// A patch with what lies about it of its colour, thinner or mixed with paper: its uneven rim.
Patch grown(const FirstStage& first, const Patch& patch) {
  constexpr int kRim = 3;  // blocks
  constexpr float kThinner = 0.35F, kAlike = 0.97F;
  const cv::Vec3f own =
      absorbed_above(Law::kubelka_munk, mean_over(first.sharp, patch), first.paper);
  const cv::Rect wide(patch.bounds.x - kRim, patch.bounds.y - kRim, patch.bounds.width + 2 * kRim,
                      patch.bounds.height + 2 * kRim);
  const cv::Rect bounds = wide & cv::Rect({}, first.lab.size());
  cv::Mat alike(bounds.size(), CV_8UC1, cv::Scalar(0)), inside = alike.clone();
  for (int y = 0; y < bounds.height; ++y) {
    for (int x = 0; x < bounds.width; ++x) {
      const cv::Point at(bounds.x + x, bounds.y + y);
      if ((first.named.added.at<uchar>(at) | first.named.other.at<uchar>(at)) != 0) continue;
      const cv::Vec3f here =
          absorbed_above(Law::kubelka_munk, first.sharp.at<cv::Vec3f>(at), first.paper);
      if (likeness(here, own) > kAlike &&
          cv::norm(here) > static_cast<double>(kThinner) * cv::norm(own))
        alike.at<uchar>(y, x) = 255;
    }
  }
  cv::Mat there = inside(patch.bounds - bounds.tl());
  there |= patch.inside;
  for (int i = 0; i < kRim; ++i) {
    cv::Mat rim;
    cv::dilate(inside, rim, cv::Mat::ones(3, 3, CV_8UC1));
    inside |= rim & alike;
  }
  return {bounds, inside, cv::countNonZero(inside)};
}

class Judge {
 public:
  Judge(const SheetView& view, const FirstStage& first, const PrintColours& print)
      : view_(view), first_(first), print_(print), screened_(print_is_screened(view)) {}

  [[nodiscard]] Candidate judge(const Patch& patch) const {
    const cv::Vec3f lab = mean_over(first_.lab, patch);
    const cv::Vec3f above =
        absorbed_above(Law::kubelka_munk, mean_over(first_.sharp, patch), first_.paper);
    Candidate candidate{patch, kOdd, "", "", ""};
    std::vector<std::string> reasons;
    const NamedColour* added = PrintColours::most_like(print_.added(), above);
    const NamedColour* ink = PrintColours::most_like(print_.inks(), above);
    const float like_added = added != nullptr ? likeness(added->absorption, above) : 0,
                like_ink = ink != nullptr ? likeness(ink->absorption, above) : 0;
    const bool as_added = like_added > kAddedLike && like_added > like_ink;
    const double outside = print_.inks().empty() ? 0 : print_.outside_mixtures(above);
    const std::optional<bool> screen =
        has_screen(view_, place_of(view_, patch, {}, block_of(view_)), screened_);
    if (as_added) {
      candidate.score += kLikeAdded;
      reasons.push_back(
          fmt::format("its colour is like the added colour \"{}\"", added->region->name));
    }
    if (outside > kOutsideDegrees) {
      candidate.score += kOutside;
      reasons.emplace_back("the named inks cannot be mixed to its colour");
    } else if (!print_.inks().empty()) {
      reasons.emplace_back(
          "no named ink has its colour, nor have two of them printed over each other");
    } else {
      reasons.emplace_back(
          "its colour is met hardly anywhere else (no ink is named to compare with)");
    }
    if (screened_ && screen && !*screen && lab[0] > kPale) {
      candidate.score += kNoScreen;
      reasons.emplace_back("it lacks the screen that the print's tints have");
    }
    if (screen && *screen && outside <= kOutsideDegrees) candidate.score = 0;  // a printed tint
    candidate.score = std::min(candidate.score, 1.0) * discount(patch, lab, above, as_added);
    if (like_stain(above) && !as_added)
      reasons.emplace_back("though it may be a stain or toned paper");
    candidate.reason = sentence(reasons);
    return candidate;
  }

 private:
  const SheetView& view_;
  const FirstStage& first_;
  const PrintColours& print_;
  bool screened_;

  /// What ages or stains paper absorbs as old paper does.
  [[nodiscard]] bool like_stain(const cv::Vec3f& above) const {
    cv::Vec3f own;
    for (int c = 0; c < 3; ++c) own[c] = change::ks(first_.paper[c]);
    return likeness(own, above) > kStainLike;
  }

  [[nodiscard]] double discount(const Patch& patch, const cv::Vec3f& lab, const cv::Vec3f& above,
                                bool as_added) const {
    double factor = rarity(view_, patch, elsewhere(view_, first_, patch, lab));
    if (print_.inks().empty()) factor *= kNoInks;
    if (!as_added && like_stain(above)) factor *= kStain;
    return factor;
  }

  static std::string sentence(const std::vector<std::string>& reasons) {
    return fmt::format("Before treatment {}", fmt::join(reasons, "; "));
  }
};

}  // namespace

double odd_colour_limit(const SheetView& view) {
  return std::max(kLeastContrast, kOfPaper * bare_paper_contrast(view, 0));
}

std::vector<Candidate> find_odd_colours(const SheetView& view, const FirstStage& first) {
  PrintColours print(view);
  const double limit = odd_colour_limit(view);
  cv::Mat odd = even_blocks(first.lab) & ~(first.named.added | first.named.other);
  const cv::Mat beside = block_lab(block_paper(view, 0));
  const LabD50 sheet = lab_of_sharp(first.paper);
  for (int y = 0; y < odd.rows; ++y) {
    for (int x = 0; x < odd.cols; ++x) {
      if (odd.at<uchar>(y, x) == 0) continue;
      const auto &here = first.lab.at<cv::Vec3f>(y, x), &bare = beside.at<cv::Vec3f>(y, x);
      const auto lab = [](const cv::Vec3f& v) { return LabD50{v[0], v[1], v[2]}; };
      const double contrast =
          std::min(ciede2000(lab(here), lab(bare)), ciede2000(lab(here), sheet));
      if (contrast < limit || print.is_printed(here)) odd.at<uchar>(y, x) = 0;
    }
  }
  cv::morphologyEx(odd, odd, cv::MORPH_CLOSE, cv::Mat::ones(3, 3, CV_8UC1));
  cv::morphologyEx(odd, odd, cv::MORPH_OPEN, cv::Mat::ones(3, 3, CV_8UC1));
  std::vector<Patch> patches =
      patches_of(odd, static_cast<int>(std::ceil(kLeastMm2 / block_mm2(view))));
  std::stable_sort(patches.begin(), patches.end(),
                   [](const Patch& a, const Patch& b) { return a.pixels > b.pixels; });
  if (patches.size() > kMostPatches) patches.resize(kMostPatches);
  const Judge judge(view, first, print);
  std::vector<Candidate> candidates;
  for (const Patch& patch : patches) {
    candidates.push_back(judge.judge(patch));
    candidates.back().patch = grown(first, patch);
  }
  return candidates;
}

}  // namespace inkwane::finding
