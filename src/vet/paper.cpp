#include "vet/paper.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>
#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/colour.hpp>

namespace inkwane::vet {
namespace {

// Limits are common practice, no source.
constexpr double kDarker = 1.5;   // L* that paper loses to water, at the least
constexpr double kGrown = 0.003;  // that it grows by
constexpr double kShown = 0.01;   // of the other side's absorption, more or less of it
constexpr double kCertain = 3;    // standard uncertainties

constexpr double kBlockMm = 0.5;
constexpr double kSpreadBlocks = 1;    // of light in the paper, about 0.5 mm
constexpr double kBareShare = 0.88;    // of the light of the lightest paper
constexpr int kEnough = 200;           // blocks
constexpr double kEnoughPrint = 0.05;  // standard deviation of what lies behind
constexpr double kNeighbours = 3;      // blocks err together over about so many, either way

/// Y in blocks, NaN where less than half of a block was measured.
cv::Mat blocks_of(const change::Layer& layer, int block) {
  cv::Mat y, valid;
  cv::extractChannel(layer.xyz, y, 1);
  cv::patchNaNs(y, 0);
  layer.valid.convertTo(valid, CV_32F, 1 / 255.0);
  const cv::Size size((y.cols + block - 1) / block, (y.rows + block - 1) / block);
  cv::copyMakeBorder(y.mul(valid), y, 0, size.height * block - y.rows, 0,
                     size.width * block - y.cols, cv::BORDER_CONSTANT, 0);
  cv::copyMakeBorder(valid, valid, 0, size.height * block - valid.rows, 0,
                     size.width * block - valid.cols, cv::BORDER_CONSTANT, 0);
  cv::resize(y, y, size, 0, 0, cv::INTER_AREA);
  cv::resize(valid, valid, size, 0, 0, cv::INTER_AREA);
  y /= valid;
  y.setTo(std::nan(""), valid < 0.5F);
  return y;
}

float median_of(std::vector<float> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// One side's light at every stage, on common blocks.
struct Seen {
  std::vector<std::string> stages;
  std::vector<cv::Mat> light;  ///< CV_32FC1, Y, NaN where not measured
  cv::Mat bare;                ///< CV_8UC1: paper at the first stage, away from print
  std::vector<float> tone;     ///< of the bare paper at each stage; 0: not known

  [[nodiscard]] const cv::Mat* at(const std::string& stage) const {
    for (std::size_t i = 0; i < stages.size(); ++i) {
      if (stages[i] == stage) return &light[i];
    }
    return nullptr;
  }
};

void find_bare(Seen& seen) {
  const cv::Mat& first = seen.light.front();
  std::vector<float> values;
  for (const float y : cv::Mat_<float>(first)) {
    if (!std::isnan(y)) values.push_back(y);
  }
  seen.bare = cv::Mat(first.size(), CV_8UC1, cv::Scalar(0));
  seen.tone.assign(seen.light.size(), 0);
  if (static_cast<int>(values.size()) < kEnough) return;
  const auto lightest =
      values.begin() + static_cast<std::ptrdiff_t>(0.95 * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), lightest, values.end());
  seen.bare = first > kBareShare * static_cast<double>(*lightest);  // NaN is not
  cv::erode(seen.bare, seen.bare, cv::Mat(), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  for (std::size_t s = 0; s < seen.light.size(); ++s) {
    std::vector<float> tones;
    for (int y = 0; y < seen.bare.rows; ++y) {
      for (int x = 0; x < seen.bare.cols; ++x) {
        const float v = seen.light[s].at<float>(y, x);
        if (seen.bare.at<std::uint8_t>(y, x) != 0 && !std::isnan(v)) tones.push_back(v);
      }
    }
    if (static_cast<int>(tones.size()) >= kEnough) seen.tone[s] = median_of(std::move(tones));
  }
}

Seen see(const change::SideInput& side, int block) {
  Seen seen;
  for (const change::Layer& layer : side.layers) {
    seen.stages.push_back(layer.stage);
    seen.light.push_back(blocks_of(layer, block));
  }
  return seen;
}

/// Brings the recto's blocks onto those of the verso.
void bring(Seen& recto, const cv::Mat& to_recto, int block, int block_there, cv::Size size) {
  cv::Mat map(size, CV_32FC2);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const auto& cell = to_recto.at<cv::Vec2f>(std::min(y * block + block / 2, to_recto.rows - 1),
                                                std::min(x * block + block / 2, to_recto.cols - 1));
      const auto there = [block_there](float v) {
        return std::isnan(v) ? -1e6F : (v + 0.5F) / static_cast<float>(block_there) - 0.5F;
      };
      map.at<cv::Vec2f>(y, x) = {there(cell[0]), there(cell[1])};
    }
  }
  for (cv::Mat& light : recto.light) {
    cv::Mat brought;
    cv::remap(light, brought, map, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_CONSTANT,
              cv::Scalar(std::nan("")));
    light = brought;
  }
}

/// Absorption of one side's print, spread as it is seen from the other side.
cv::Mat absorption(const cv::Mat& light, float tone) {
  cv::Mat out = 1 - light / tone;
  cv::patchNaNs(out, 0);
  out = cv::max(out, 0);
  cv::GaussianBlur(out, out, {}, kSpreadBlocks, kSpreadBlocks, cv::BORDER_REPLICATE);
  return out;
}

/// 1 − Y / paper over the bare places against what lies behind, with a slope of the paper's own
/// tone across the sheet; two rounds without what lies off by more than 2.5 standard deviations.
void fit_shown(const cv::Mat& light, float tone, const cv::Mat& bare, const cv::Mat& behind,
               PaperLook& look) {
  std::vector<Eigen::Vector4d> terms;
  std::vector<double> dimmed;
  for (int y = 0; y < bare.rows; ++y) {
    for (int x = 0; x < bare.cols; ++x) {
      const float v = light.at<float>(y, x);
      if (bare.at<std::uint8_t>(y, x) == 0 || std::isnan(v)) continue;
      terms.emplace_back(1, static_cast<double>(x) / bare.cols, static_cast<double>(y) / bare.rows,
                         static_cast<double>(behind.at<float>(y, x)));
      dimmed.push_back(static_cast<double>(1 - v / tone));
    }
  }
  double scatter = 0, u = 0;
  Eigen::Vector4d fit = Eigen::Vector4d::Zero();
  for (int round = 0; round < 3; ++round) {
    Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
    Eigen::Vector4d right = Eigen::Vector4d::Zero();
    int n = 0;
    double sum = 0, squares = 0, rest = 0;
    const auto kept = [&](std::size_t i) {
      return round == 0 || std::abs(dimmed[i] - fit.dot(terms[i])) < 2.5 * scatter;
    };
    std::vector<std::size_t> used;
    for (std::size_t i = 0; i < terms.size(); ++i) {
      if (kept(i)) used.push_back(i);
    }
    for (const std::size_t i : used) {
      normal += terms[i] * terms[i].transpose();
      right += terms[i] * dimmed[i];
      sum += terms[i][3], squares += terms[i][3] * terms[i][3];
      ++n;
    }
    if (n < kEnough) return;
    const double mean = sum / n;
    if (std::sqrt(std::max(0.0, squares / n - mean * mean)) < kEnoughPrint) return;
    fit = normal.ldlt().solve(right);
    for (const std::size_t i : used) rest += std::pow(dimmed[i] - fit.dot(terms[i]), 2);
    scatter = std::sqrt(rest / n);
    u = kNeighbours * scatter * std::sqrt(normal.inverse()(3, 3));
  }
  look.shown = fit[3];
  look.u_shown = u;
}

std::vector<PaperLook> looks(const Seen& own, const Seen* other) {
  std::vector<PaperLook> out;
  for (std::size_t s = 0; s < own.stages.size(); ++s) {
    PaperLook look{own.stages[s], 0, std::nullopt, 0};
    if (own.tone[s] > 0) look.L = to_lab({0, static_cast<double>(own.tone[s]), 0}).L;
    const cv::Mat* there = other == nullptr ? nullptr : other->at(own.stages[s]);
    if (there != nullptr && own.tone[s] > 0) {
      const float tone = other->tone[static_cast<std::size_t>(there - other->light.data())];
      if (tone > 0) fit_shown(own.light[s], own.tone[s], own.bare, absorption(*there, tone), look);
    }
    out.push_back(std::move(look));
  }
  return out;
}

}  // namespace

std::map<Side, std::vector<PaperLook>> look_at_paper(const change::SideInput* recto,
                                                     const change::SideInput* verso,
                                                     const cv::Mat& to_recto) {
  const auto block = [](const change::SideInput& side) {
    return std::max(1, static_cast<int>(std::lround(kBlockMm / side.geometry.pitch_mm)));
  };
  std::map<Side, std::vector<PaperLook>> out;
  Seen front, back;
  if (recto != nullptr) front = see(*recto, block(*recto));
  if (verso != nullptr) back = see(*verso, block(*verso));
  const bool paired = recto != nullptr && verso != nullptr && !to_recto.empty();
  if (paired) bring(front, to_recto, block(*verso), block(*recto), back.light.front().size());
  if (recto != nullptr) find_bare(front);
  if (verso != nullptr) find_bare(back);
  if (recto != nullptr) out[Side::recto] = looks(front, paired ? &back : nullptr);
  if (verso != nullptr) out[Side::verso] = looks(back, paired ? &front : nullptr);
  return out;
}

Findings judge_paper(const PaperLook& before, const PaperLook& later, double growth,
                     bool said_damp) {
  if (before.L <= 0 || later.L <= 0) return {};
  const double dL = later.L - before.L;
  double more = 0;
  if (before.shown && later.shown) {
    more = *later.shown - *before.shown;
    const double limit = std::max(kShown, kCertain * std::hypot(before.u_shown, later.u_shown));
    if (std::abs(more) < limit) more = 0;
  }
  const auto through = [&] {
    return fmt::format("{:.1f} % of the other side's print shows through, at {} {:.1f} %",
                       100 * *later.shown, before.stage, 100 * *before.shown);
  };
  if (dL < -kDarker && (more > 0 || growth > 1 + kGrown)) {
    if (said_damp) return {};
    return {
        {Verdict::note,
         fmt::format("bare paper is darker than at {} by L* {:.1f} and {}: was the sheet damp",
                     before.stage, -dL,
                     more > 0 ? through() : fmt::format("{:.1f} % larger", 100 * (growth - 1))) +
             "?",
         "if so, mark the stage with condition = \"damp\" and scan it again dry"}};
  }
  if (more == 0 || said_damp) return {};
  return {{Verdict::note,
           fmt::format("{}: {}", through(),
                       more < 0 ? "the backing was darker, or lay closer"
                                : "the backing was lighter, or colour came through the paper"),
           "scan every stage on the same backing"}};
}

}  // namespace inkwane::vet
