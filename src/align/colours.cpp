#include "align/colours.hpp"

#include <array>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "align/features.hpp"

namespace inkwane::align {
namespace {

constexpr double kBlockMm = 2;
constexpr int kFewest = 100;  // blocks
// Correlation of colour; common practice, no source. Prints that were bleached, recoloured or
// treated agree with themselves to 0.6 and more.
constexpr double kAgrees = 0.6, kClearly = 0.2;

/// ln Y, ln X/Y, ln Z/Y, in blocks.
struct Coarse {
  explicit Coarse(const View& view) : scale(kBlockMm / view.grid->geometry.pitch_mm) {
    const cv::Size size(static_cast<int>(view.grid->xyz.cols / scale),
                        static_cast<int>(view.grid->xyz.rows / scale));
    cv::resize(view.grid->xyz(cv::Rect(0, 0, static_cast<int>(size.width * scale),
                                       static_cast<int>(size.height * scale))),
               colour, size, 0, 0, cv::INTER_AREA);
    cv::resize(view.outline->sheet, sheet, size, 0, 0, cv::INTER_NEAREST);
    for (cv::Vec3f& v : cv::Mat_<cv::Vec3f>(colour)) {
      const auto ln = [](float a) { return std::log(std::max(a, 1e-3F)); };
      v = {ln(v[1]), ln(v[0]) - ln(v[1]), ln(v[2]) - ln(v[1])};
    }
  }
  double scale;
  cv::Mat colour, sheet;
};

double correlation(const Coarse& first, const Coarse& later, const cv::Matx23d& map, bool across,
                   bool along) {
  const cv::Rect sheet = cv::boundingRect(first.sheet);
  cv::Vec3d sum_a, sum_b;
  std::vector<std::pair<cv::Vec3d, cv::Vec3d>> pairs;
  for (int y = sheet.y; y < sheet.br().y; ++y) {
    for (int x = sheet.x; x < sheet.br().x; ++x) {
      if (first.sheet.at<std::uint8_t>(y, x) == 0) continue;
      const cv::Point2d from(across ? sheet.x + sheet.br().x - 1 - x : x,
                             along ? sheet.y + sheet.br().y - 1 - y : y);
      const cv::Point2d cell((from.x + 0.5) * first.scale - 0.5,
                             (from.y + 0.5) * first.scale - 0.5);
      const cv::Point2d there = apply(map, cell);
      const cv::Point block(static_cast<int>(std::floor((there.x + 0.5) / later.scale)),
                            static_cast<int>(std::floor((there.y + 0.5) / later.scale)));
      if (!cv::Rect({}, later.sheet.size()).contains(block) ||
          later.sheet.at<std::uint8_t>(block) == 0)
        continue;
      const cv::Vec3d a = first.colour.at<cv::Vec3f>(y, x), b = later.colour.at<cv::Vec3f>(block);
      if (std::isnan(a[0] + b[0])) continue;
      sum_a += a, sum_b += b;
      pairs.emplace_back(a, b);
    }
  }
  if (pairs.size() < kFewest) return 0;
  const double n = static_cast<double>(pairs.size());
  double ab = 0, aa = 0, bb = 0;
  for (const auto& [a, b] : pairs) {
    const cv::Vec3d da = a - sum_a / n, db = b - sum_b / n;
    ab += da.dot(db), aa += da.dot(da), bb += db.dot(db);
  }
  return aa > 0 && bb > 0 ? ab / std::sqrt(aa * bb) : 0;
}

}  // namespace

Lies lies(const View& first, const View& later, const cv::Matx23d& map) {
  if (first.grid->xyz.empty() || later.grid->xyz.empty()) return Lies::alike;
  const Coarse here(first), there(later);
  const auto agree = [&](bool across, bool along) {
    return correlation(here, there, map, across, along);
  };
  const double straight = agree(false, false);
  const double mirrored = std::max(agree(true, false), agree(false, true)),
               turned = agree(true, true);
  const double other = std::max(mirrored, turned);
  if (other < kAgrees || other < straight + kClearly) return Lies::alike;
  return mirrored >= turned ? Lies::mirrored : Lies::turned;
}

}  // namespace inkwane::align
