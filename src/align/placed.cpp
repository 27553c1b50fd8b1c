#include "align/placed.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "align/features.hpp"

namespace inkwane::align {
namespace {

// All lengths in mm of the sheet. The window shrinks from the size of a picture to that of a
// letter. Less than 0.15 mm of blur lets the field lock on a neighbouring dot of the screen.
constexpr double kBlur = 0.15;
/// Window of the local contrast.
constexpr double kContrast = 0.5;
/// Contrast of lightness (0–1) below which nothing counts as structure, and as print.
constexpr double kFloor = 0.002, kPrintFloor = 0.02;
/// Blocks whose agreement is counted, and radius of the places held out.
constexpr double kBlockSide = 4.0;
constexpr double kHeldOutRadius = 1.6;
/// The radius shrinks on small sheets until this many places cover a twenty-fifth of them.
constexpr double kLeastHeldOut = 30;
constexpr int kLeastRadiusCells = 4;

/// Pitch of the levels; the grid's own where that is coarser.
constexpr std::array<double, 4> kLevels{0, 0.2, 0.4, 0.8};

/// The power of two that divides a block of the field's lattice and comes nearest below the pitch.
int factor_for(double level_mm, double pitch_mm) {
  int factor = 1;
  while (factor < Field::kBlock && 2 * factor * pitch_mm <= 1.05 * level_mm) factor *= 2;
  return factor;
}

Pair make_pair_of(const cv::Mat& first, const cv::Mat& first_mask, const cv::Mat& second,
                  const cv::Mat& second_mask, int factor, double pitch_mm, double floor) {
  const double pitch = factor * pitch_mm;
  const double blur = std::max(kBlur / pitch, factor == 1 ? 0.0 : 0.8);
  const double window = std::max(kContrast / pitch, 6.0);
  const auto one = [&](const cv::Mat& picture, const cv::Mat& mask) {
    const Level level = reduce(picture, mask, factor);
    return normalise(level, blur, window, std::max(floor, 2 * noise_of(level)));
  };
  return {factor, one(first, first_mask), one(second, second_mask)};
}

}  // namespace

Placed::Placed(const View& first, const View& later, const cv::Matx23d& map)
    : map_(map), pitch_mm_(first.grid->geometry.pitch_mm) {
  const double sheet = cv::countNonZero(first.outline->sheet);
  held_out_radius_ = std::max(
      kLeastRadiusCells,
      cvRound(std::min(cells(kHeldOutRadius), std::sqrt(0.04 * sheet / (kLeastHeldOut * CV_PI)))));
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
  cv::warpAffine(later.outline->sheet, mask, map, own.size(),
                 cv::INTER_NEAREST | cv::WARP_INVERSE_MAP, cv::BORDER_CONSTANT, cv::Scalar(0));
  for (const double level_mm : kLevels) {
    const int factor = factor_for(level_mm, pitch_mm_);
    levels_.push_back(
        make_pair_of(own, first.outline->sheet, picture, mask, factor, pitch_mm_, kFloor));
  }
  print_ = make_pair_of(own, first.outline->sheet, picture, mask, levels_[1].factor, pitch_mm_,
                        kPrintFloor);
}

Field Placed::coarse(const Field& start) const {
  return refine(
      start, {{&levels_[3], cells(12), 3}, {&levels_[2], cells(8), 3}, {&levels_[2], cells(5), 3}},
      {});
}

Verdict Placed::verdict(const Field& field) const {
  const auto agreement = [&](const Pair& level) {
    const Signal second{pull(level.second.value, field, level.factor, cv::INTER_LINEAR),
                        pull(level.second.weight, field, level.factor, cv::INTER_LINEAR)};
    return compare(level.first, second, std::max(8, cvRound(cells(kBlockSide) / level.factor)));
  };
  return judge(agreement(print_), agreement(levels_[1]));
}

Field Placed::fine(const Field& start, const cv::Mat& use) const {
  return refine(start, {{&levels_[1], cells(3), 3}, {&levels_[0], cells(2), 2}}, use);
}

Field Placed::finish(const Field& start) const {
  return refine(start, {{&levels_[0], cells(2), 1}}, {});
}

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
  return choose_held_out(level.first, held_out_radius_);
}

cv::Mat Placed::without(const std::vector<cv::Point>& places) const {
  const Field lattice = Field::zero(levels_[0].first.value.size());
  cv::Mat use(lattice.nodes.size(), CV_32F, cv::Scalar(1));
  for (const cv::Point place : places) {
    const cv::Point from((place.x - held_out_radius_) / Field::kBlock,
                         (place.y - held_out_radius_) / Field::kBlock);
    const cv::Point to((place.x + held_out_radius_) / Field::kBlock + 1,
                       (place.y + held_out_radius_) / Field::kBlock + 1);
    use(cv::Rect(from, to) & cv::Rect({}, use.size())).setTo(0);
  }
  return use;
}

std::vector<double> Placed::shifts(const Field& field, const std::vector<cv::Point>& places) const {
  const Pair& level = levels_[0];
  const Signal second{pull(level.second.value, field, 1, cv::INTER_CUBIC),
                      pull(level.second.weight, field, 1, cv::INTER_LINEAR)};
  return held_out_shifts(level.first, second, places, held_out_radius_);
}

}  // namespace inkwane::align
