#include "finding/suspects.hpp"

#include <algorithm>

#include <opencv2/imgproc.hpp>

#include "finding/fast_fading.hpp"
#include "finding/odd_colours.hpp"
#include "finding/print_colours.hpp"

namespace inkwane::finding {
namespace {

/// Below it a suspicion is not worth a person's time.
constexpr double kWorthALook = 0.15;
/// No side's list is longer, nor holds more that are no likelier than this.
constexpr std::size_t kMost = 20, kMostUnlikely = 2;
constexpr double kUnlikely = 0.3;
/// Patches are one place where this share of the smaller lies in the other.
constexpr double kShared = 0.3;
/// Of a patch that would be found, at the contrasts of the limits.
constexpr double kLimitMm2 = 4;

/// Blocks that lie in both.
int common(const Patch& a, const Patch& b) {
  const cv::Rect both = a.bounds & b.bounds;
  if (both.empty()) return 0;
  return cv::countNonZero(a.inside(both - a.bounds.tl()) & b.inside(both - b.bounds.tl()));
}

Patch joined(const Patch& a, const Patch& b) {
  Patch all;
  all.bounds = a.bounds | b.bounds;
  all.inside = cv::Mat(all.bounds.size(), CV_8UC1, cv::Scalar(0));
  for (const Patch* part : {&a, &b}) {
    cv::Mat there = all.inside(part->bounds - all.bounds.tl());
    there |= part->inside;
  }
  all.pixels = cv::countNonZero(all.inside);
  return all;
}

/// Two suspicions of one place: what speaks for it twice is surer than either.
void add(Candidate candidate, std::vector<Candidate>& places) {
  for (Candidate& place : places) {
    const int shared = common(place.patch, candidate.patch);
    if (shared < kShared * std::min(place.patch.pixels, candidate.patch.pixels)) continue;
    place.patch = joined(place.patch, candidate.patch);
    const bool other_kind = place.to.empty() != candidate.to.empty();
    if (other_kind) {
      place.reason += "; " + candidate.reason;
      place.score = 1 - (1 - place.score) * (1 - candidate.score);
      place.from = candidate.from;
      place.to = candidate.to;
    } else if (candidate.score > place.score) {
      place.reason = candidate.reason;
      place.score = candidate.score;
      place.from = candidate.from;
      place.to = candidate.to;
    }
    return;
  }
  places.push_back(std::move(candidate));
}

/// "paper" where bare paper is all about the place; empty where that can't be told.
std::string under(const SheetView& view, const FirstStage& first, const Patch& patch) {
  constexpr int kAbout = 8, kGap = 3;  // blocks
  cv::Mat padded, about, near;
  cv::copyMakeBorder(patch.inside, padded, kAbout, kAbout, kAbout, kAbout, cv::BORDER_CONSTANT,
                     cv::Scalar(0));
  cv::dilate(padded, about, cv::Mat::ones(2 * kAbout + 1, 2 * kAbout + 1, CV_8UC1));
  cv::dilate(padded, near, cv::Mat::ones(2 * kGap + 1, 2 * kGap + 1, CV_8UC1));
  about &= ~near;
  const cv::Rect window(patch.bounds.x - kAbout, patch.bounds.y - kAbout, padded.cols, padded.rows);
  const int block = block_of(view);
  const cv::Mat& bare = view.context().paper.unprinted;
  int paper = 0, all = 0;
  for (int y = 0; y < window.height; ++y) {
    for (int x = 0; x < window.width; ++x) {
      const cv::Point at(window.x + x, window.y + y);
      if (about.at<uchar>(y, x) == 0 || !cv::Rect({}, first.lab.size()).contains(at)) continue;
      ++all;
      paper += bare.at<uchar>(std::min(at.y * block, bare.rows - 1),
                              std::min(at.x * block, bare.cols - 1)) != 0;
    }
  }
  return all > 0 && paper > 0.8 * all ? "paper" : "";
}

LabD50 lab_of(const cv::Vec3f& v) {
  return {v[0], v[1], v[2]};
}

}  // namespace

void find_suspects(const SheetView& view, results::Findings& findings) {
  if (!view.measured()) return;
  const FirstStage first(view);
  std::vector<Candidate> places;
  for (Candidate& candidate : find_odd_colours(view, first)) add(std::move(candidate), places);
  findings.limits.push_back(
      {"suspects", view.input->side, "", "", odd_colour_limit(view), kLimitMm2, 0});
  for (int to = 1; to < static_cast<int>(view.input->layers.size()); ++to) {
    for (Candidate& candidate : find_fast_fading(view, first, to))
      add(std::move(candidate), places);
    findings.limits.push_back({"suspects", view.input->side, view.layer(0).stage,
                               view.layer(to).stage, kLeastLoss, kLimitMm2, 0});
  }
  std::erase_if(places, [](const Candidate& place) { return place.score < kWorthALook; });
  std::stable_sort(places.begin(), places.end(),
                   [](const Candidate& a, const Candidate& b) { return a.score > b.score; });
  const auto unlikely = std::find_if(
      places.begin(), places.end(), [](const Candidate& place) { return place.score < kUnlikely; });
  const std::size_t likely = static_cast<std::size_t>(unlikely - places.begin());
  places.resize(std::min({places.size(), likely + kMostUnlikely, kMost}));
  for (const Candidate& place : places) {
    results::Suspect suspect;
    suspect.place = place_of(view, place.patch, {}, block_of(view));
    suspect.lab = lab_of(mean_over(first.lab, place.patch));
    suspect.score = place.score;
    suspect.reason = place.reason + ".";
    suspect.under = under(view, first, place.patch);
    suspect.from = place.from;
    suspect.to = place.to;
    findings.suspects.push_back(std::move(suspect));
  }
}

}  // namespace inkwane::finding
