#include "align/dense.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace inkwane::align {
namespace {

/// The sums of one window: the structure tensor, the mismatch projected on the gradient, and what
/// the correlation of the two pictures needs.
enum Sum { kXX, kXY, kYY, kXT, kYT, kTT, kWeight, kAA, kBB, kAB, kSums };

/// Weights of the window's tails, three and nine times as wide as itself: small enough that any
/// structure within the window itself decides (own trials on simulated sheets).
constexpr double kTail = 0.03;
/// Gradient energy (squared deviations of local contrast per square cell) below which a window is
/// held back: a hundredth of what text has.
constexpr float kStiffness = 4e-4F;
/// A round moves no block by more than this many cells of its level.
constexpr float kLongestStep = 1.0F;
/// Mismatch, in local standard deviations, at which a cell has lost three quarters of its weight
/// (Geman–McClure): places where colour was added or lost must not pull.
constexpr float kMismatch = 1.0F;
/// Radius (standard deviation, in blocks) over which the pictures' correlation is taken.
constexpr double kCoherence = 1.5;
/// Cells whose mismatch goes together, since both pictures are blurred by about 1.5 cells.
constexpr float kCorrelated = 28.0F;

cv::Size lattice_size(cv::Size cells) {
  return {(cells.width + Field::kBlock - 1) / Field::kBlock,
          (cells.height + Field::kBlock - 1) / Field::kBlock};
}

/// Sums over the blocks of the lattice, CV_32FC(kSums).
cv::Mat block_sums(const Pair& pair, const cv::Mat& second, const cv::Mat& second_weight,
                   cv::Size lattice) {
  const cv::Mat& first = pair.first.value;
  const cv::Mat& first_weight = pair.first.weight;
  const int block = Field::kBlock / pair.factor;
  cv::Mat sums(lattice, CV_32FC(kSums), cv::Scalar::all(0));
  cv::parallel_for_({0, lattice.height}, [&](const cv::Range& rows) {
    for (int node_row = rows.start; node_row < rows.end; ++node_row) {
      const int last = std::min((node_row + 1) * block, first.rows - 1);
      for (int row = std::max(node_row * block, 1); row < last; ++row) {
        const auto* a = first.ptr<float>(row);
        const auto* a_up = first.ptr<float>(row - 1);
        const auto* a_down = first.ptr<float>(row + 1);
        const auto* b = second.ptr<float>(row);
        const auto* b_up = second.ptr<float>(row - 1);
        const auto* b_down = second.ptr<float>(row + 1);
        const auto* wa = first_weight.ptr<float>(row);
        const auto* wb = second_weight.ptr<float>(row);
        auto* out = sums.ptr<float>(node_row);
        for (int column = 1; column + 1 < first.cols; ++column) {
          // Whole cells only: a cell that lies half off the sheet has a gradient of its own.
          if (wa[column] < 0.99F || wb[column] < 0.99F) continue;
          const float x = 0.25F * (a[column + 1] - a[column - 1] + b[column + 1] - b[column - 1]);
          const float y = 0.25F * (a_down[column] - a_up[column] + b_down[column] - b_up[column]);
          const float t = b[column] - a[column];
          const float robust = kMismatch / (kMismatch + t * t);
          const float w = robust * robust;
          float* s = out + (column / block) * kSums;
          s[kXX] += w * x * x;
          s[kXY] += w * x * y;
          s[kYY] += w * y * y;
          s[kXT] += w * x * t;
          s[kYT] += w * y * t;
          s[kTT] += w * t * t;
          s[kWeight] += w;
          s[kAA] += a[column] * a[column];
          s[kBB] += b[column] * b[column];
          s[kAB] += a[column] * b[column];
        }
      }
    }
  });
  return sums;
}

/// Squared correlation of the two pictures about each block, 0 where it is negative: what was
/// added, lost or is mere noise does not pull.
cv::Mat coherence(const std::vector<cv::Mat>& planes) {
  cv::Mat aa, bb, ab;
  for (const auto& [plane, blurred] : {std::pair{kAA, &aa}, {kBB, &bb}, {kAB, &ab}}) {
    cv::GaussianBlur(planes[plane], *blurred, {}, kCoherence, kCoherence, cv::BORDER_CONSTANT);
  }
  cv::max(ab, 0, ab);
  cv::Mat norm;
  cv::multiply(aa, bb, norm);
  cv::max(norm, 1e-12, norm);
  cv::multiply(ab, ab, ab);
  cv::divide(ab, norm, ab);
  return ab;
}

void one_round(Field& field, const Pass& pass, const cv::Mat& use) {
  const Pair& pair = *pass.pair;
  const cv::Mat second = pull(pair.second.value, field, pair.factor, cv::INTER_CUBIC);
  const cv::Mat second_weight = pull(pair.second.weight, field, pair.factor, cv::INTER_LINEAR);
  cv::Mat sums = block_sums(pair, second, second_weight, field.nodes.size());
  std::vector<cv::Mat> planes;
  cv::split(sums, planes);
  const cv::Mat trust = coherence(planes);
  planes.resize(kAA);
  const double sigma = pass.window / Field::kBlock;
  for (auto& plane : planes) {
    cv::multiply(plane, trust, plane);
    if (!use.empty()) cv::multiply(plane, use, plane);
    const cv::Mat window = wide_blur(plane, sigma);
    const cv::Mat tail = wide_blur(window, 3 * sigma), far_tail = wide_blur(tail, 9 * sigma);
    plane = window + kTail * tail + kTail * kTail * far_tail;
  }

  const auto cells = static_cast<float>(Field::kBlock / pair.factor);
  const float stiffness = kStiffness * cells * cells;
  const auto scale = static_cast<float>(pair.factor);
  // The planes hold means over the window; its area in blocks makes sums of them.
  const auto blocks = static_cast<float>(4 * CV_PI * sigma * sigma);
  for (int row = 0; row < field.nodes.rows; ++row) {
    for (int column = 0; column < field.nodes.cols; ++column) {
      const auto sum = [&](Sum which) { return planes[which].at<float>(row, column); };
      const float xx = sum(kXX) + stiffness, yy = sum(kYY) + stiffness, xy = sum(kXY);
      const float determinant = xx * yy - xy * xy;
      cv::Vec2f step((xy * sum(kYT) - yy * sum(kXT)) / determinant,
                     (xy * sum(kXT) - xx * sum(kYT)) / determinant);
      const float length = std::hypot(step[0], step[1]);
      if (length > kLongestStep) step *= kLongestStep / length;
      field.nodes.at<cv::Vec2f>(row, column) += step * scale;

      // Formal variance: mean squared mismatch over the smaller eigenvalue of the tensor.
      const float half = 0.5F * (xx + yy);
      const float smaller = half - std::sqrt(std::max(half * half - determinant, 0.0F));
      const float mismatch = sum(kTT) / std::max(sum(kWeight), 1e-6F);
      field.variance.at<float>(row, column) =
          scale * scale * kCorrelated * mismatch / (std::max(smaller, 1e-9F) * blocks);
    }
  }
}

}  // namespace

Field Field::zero(cv::Size cells) {
  const cv::Size size = lattice_size(cells);
  return {cells, cv::Mat(size, CV_32FC2, cv::Scalar(0, 0)), cv::Mat(size, CV_32F, cv::Scalar(0))};
}

cv::Mat Field::at_cells() const {
  cv::Mat all;
  cv::resize(nodes, all, nodes.size() * kBlock, 0, 0, cv::INTER_LINEAR);
  return all(cv::Rect({}, cells));
}

cv::Point2d Field::at(cv::Point2d cell) const {
  const double u = std::clamp((cell.x + 0.5) / kBlock - 0.5, 0.0, nodes.cols - 1.0);
  const double v = std::clamp((cell.y + 0.5) / kBlock - 0.5, 0.0, nodes.rows - 1.0);
  const int i = std::min(static_cast<int>(u), std::max(nodes.cols - 2, 0));
  const int j = std::min(static_cast<int>(v), std::max(nodes.rows - 2, 0));
  const int right = std::min(i + 1, nodes.cols - 1), down = std::min(j + 1, nodes.rows - 1);
  const auto fu = static_cast<float>(u - i), fv = static_cast<float>(v - j);
  const cv::Vec2f d =
      (nodes.at<cv::Vec2f>(j, i) * (1 - fu) + nodes.at<cv::Vec2f>(j, right) * fu) * (1 - fv) +
      (nodes.at<cv::Vec2f>(down, i) * (1 - fu) + nodes.at<cv::Vec2f>(down, right) * fu) * fv;
  return {static_cast<double>(d[0]), static_cast<double>(d[1])};
}

cv::Mat pull(const cv::Mat& picture, const Field& field, int factor, int interpolation) {
  cv::Mat map;
  const int block = Field::kBlock / factor;
  cv::resize(field.nodes, map, field.nodes.size() * block, 0, 0, cv::INTER_LINEAR);
  map = map(cv::Rect({}, picture.size()));
  const float scale = 1.0F / static_cast<float>(factor);
  cv::parallel_for_({0, map.rows}, [&](const cv::Range& rows) {
    for (int row = rows.start; row < rows.end; ++row) {
      auto* d = map.ptr<cv::Vec2f>(row);
      for (int column = 0; column < map.cols; ++column) {
        d[column][0] = static_cast<float>(column) + d[column][0] * scale;
        d[column][1] = static_cast<float>(row) + d[column][1] * scale;
      }
    }
  });
  cv::Mat pulled;
  cv::remap(picture, pulled, map, {}, interpolation, cv::BORDER_CONSTANT, cv::Scalar(0));
  return pulled;
}

Field refine(Field start, const std::vector<Pass>& passes, const cv::Mat& use) {
  for (const Pass& pass : passes) {
    for (int round = 0; round < pass.rounds; ++round) one_round(start, pass, use);
  }
  return start;
}

}  // namespace inkwane::align
