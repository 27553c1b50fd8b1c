#include "finding/half_millimetre.hpp"

#include <algorithm>
#include <limits>

#include <opencv2/imgproc.hpp>

namespace inkwane::finding {
namespace {

constexpr double kCellMm = 0.5;

/// Mean of the measured cells under each coarse one; NaN where less than half are.
cv::Mat averaged(const cv::Mat& picture, const cv::Mat& valid, const cv::Mat& share, int block) {
  cv::Mat known = picture.clone(), sum;
  known.setTo(cv::Scalar::all(0), valid == 0);
  cv::patchNaNs(known, 0);
  cv::resize(known(cv::Rect(0, 0, share.cols * block, share.rows * block)), sum, share.size(), 0, 0,
             cv::INTER_AREA);
  cv::Mat weight;
  cv::merge(std::vector<cv::Mat>(static_cast<std::size_t>(picture.channels()), share), weight);
  cv::divide(sum, cv::max(weight, 1e-6), sum);
  sum.setTo(cv::Scalar::all(std::numeric_limits<double>::quiet_NaN()), share < 0.5);
  return sum;
}

}  // namespace

CoarseSide half_millimetre(const change::SideInput& fine) {
  CoarseSide coarse;
  coarse.block = std::max(1, static_cast<int>(std::lround(kCellMm / fine.geometry.pitch_mm)));
  const int block = coarse.block;
  change::SideInput& side = coarse.side;
  side.side = fine.side;
  side.aperture_mm = fine.aperture_mm;
  side.geometry = fine.geometry;
  side.geometry.pitch_mm *= block;
  side.geometry.pitch_px *= block;
  side.geometry.origin_px = fine.geometry.to_px(coarse.fine(0, 0));
  side.geometry.columns /= block;
  side.geometry.rows /= block;
  const cv::Rect whole(0, 0, side.geometry.columns * block, side.geometry.rows * block);
  cv::resize(fine.sheet(whole), side.sheet, side.geometry.size(), 0, 0, cv::INTER_AREA);
  side.sheet = side.sheet >= 128;
  for (const change::Layer& layer : fine.layers) {
    change::Layer& out = side.layers.emplace_back();
    out.stage = layer.stage;
    out.fit = layer.fit;
    const cv::Mat& valid = layer.valid;
    cv::Mat share;
    valid(whole).convertTo(share, CV_32F, 1.0 / 255);
    cv::resize(share, share, side.geometry.size(), 0, 0, cv::INTER_AREA);
    out.xyz = averaged(layer.xyz, valid, share, block);
    out.light = averaged(layer.light, valid, share, block);
    out.valid = share >= 0.5;
    if (!layer.misfit_mm.empty())
      cv::resize(layer.misfit_mm(whole), out.misfit_mm, side.geometry.size(), 0, 0,
                 cv::INTER_NEAREST);
  }
  return coarse;
}

}  // namespace inkwane::finding
