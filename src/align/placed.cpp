#include "align/placed.hpp"

#include "align/features.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace inkwane::align {
namespace {

// All lengths in mm of the sheet. The window shrinks from the size of a picture to that of a letter.
// Less than 0.15 mm of blur lets the field lock on a neighbouring dot of the screen.
constexpr double kBlur = 0.15;
/// Window of the local contrast.
constexpr double kContrast = 0.5;
/// Contrast of lightness (0–1) below which nothing counts as structure.
constexpr double kFloor = 0.002;
/// Blocks whose agreement is counted, and radius of the places held out.
constexpr double kBlockSide = 4.0;
constexpr double kHeldOutRadius = 1.6;

Pair make_pair_of(const cv::Mat& first, const cv::Mat& first_mask, const cv::Mat& second,
                  const cv::Mat& second_mask, int factor, double pitch_mm) {
  const double pitch = factor * pitch_mm;
  const double blur = std::max(kBlur / pitch, factor == 1 ? 0.0 : 0.8);
  const double window = std::max(kContrast / pitch, 6.0);
  const auto one = [&](const cv::Mat& picture, const cv::Mat& mask) {
    const Level level = reduce(picture, mask, factor);
    return normalise(level, blur, window, std::max(kFloor, 2 * noise_of(level)));
  };
  return {factor, one(first, first_mask), one(second, second_mask)};
}

}  // namespace

Placed::Placed(const View& first, const View& later, const cv::Matx23d& map)
    : map_(map), pitch_mm_(first.grid->geometry.pitch_mm) {
  const cv::Mat& own = first.grid->structure;
  cv::Mat finite = later.grid->structure.clone();
  cv::patchNaNs(finite, 0);
  // A later scan of finer cells is blurred first to what the first one's cells can show.
  const double scale = std::sqrt(std::abs(cv::determinant(linear(map))));
  if (scale > 1.2) {
    const double sigma = 0.5 * std::sqrt(scale * scale - 1);
    cv::GaussianBlur(finite, finite, {}, sigma, sigma, cv::BORDER_REPLICATE);
  }
  cv::Mat picture, mask;
  cv::warpAffine(finite, picture, map, own.size(), cv::INTER_CUBIC | cv::WARP_INVERSE_MAP,
                 cv::BORDER_REPLICATE);
  cv::warpAffine(later.outline->sheet, mask, map, own.size(), cv::INTER_NEAREST | cv::WARP_INVERSE_MAP,
                 cv::BORDER_CONSTANT, cv::Scalar(0));
  for (const int factor : {1, 2, 4, 8}) {
    levels_.push_back(make_pair_of(own, first.outline->sheet, picture, mask, factor, pitch_mm_));
  }
}

Field Placed::coarse(const Field& start) const {
  return refine(start, {{&levels_[3], cells(12), 3}, {&levels_[2], cells(8), 3}, {&levels_[2], cells(5), 3}},
                {});
}

Agreement Placed::agreement(const Field& field) const {
  const Pair& level = levels_[1];
  const Signal second{pull(level.second.value, field, level.factor, cv::INTER_LINEAR),
                      pull(level.second.weight, field, level.factor, cv::INTER_LINEAR)};
  return compare(level.first, second, std::max(8, cvRound(cells(kBlockSide) / level.factor)));
}

Field Placed::fine(const Field& start, const cv::Mat& use) const {
  return refine(start, {{&levels_[1], cells(3), 3}, {&levels_[0], cells(2), 2}}, use);
}

Field Placed::finish(const Field& start) const { return refine(start, {{&levels_[0], cells(2), 1}}, {}); }

Field Placed::backward() const {
  std::vector<Pair> swapped;
  for (const Pair& level : levels_) swapped.push_back({level.factor, level.second, level.first});
  return refine(Field::zero(levels_[0].first.value.size()),
                {{&swapped[3], cells(12), 3},
                 {&swapped[2], cells(8), 3},
                 {&swapped[2], cells(5), 3},
                 {&swapped[1], cells(3), 3},
                 {&swapped[1], cells(2), 2}},
                {});
}

std::vector<cv::Point> Placed::held_out() const {
  const Pair& level = levels_[0];
  return choose_held_out(level.first, std::max(4, cvRound(cells(kHeldOutRadius))));
}

cv::Mat Placed::without(const std::vector<cv::Point>& places) const {
  const Field lattice = Field::zero(levels_[0].first.value.size());
  cv::Mat use(lattice.nodes.size(), CV_32F, cv::Scalar(1));
  const int radius = std::max(4, cvRound(cells(kHeldOutRadius)));
  for (const cv::Point place : places) {
    const cv::Point from((place.x - radius) / Field::kBlock, (place.y - radius) / Field::kBlock);
    const cv::Point to((place.x + radius) / Field::kBlock + 1, (place.y + radius) / Field::kBlock + 1);
    use(cv::Rect(from, to) & cv::Rect({}, use.size())).setTo(0);
  }
  return use;
}

std::vector<double> Placed::shifts(const Field& field, const std::vector<cv::Point>& places) const {
  const Pair& level = levels_[0];
  const Signal second{pull(level.second.value, field, 1, cv::INTER_CUBIC),
                      pull(level.second.weight, field, 1, cv::INTER_LINEAR)};
  return held_out_shifts(level.first, second, places, std::max(4, cvRound(cells(kHeldOutRadius))));
}

}  // namespace inkwane::align
