#include "finding/candidate.hpp"

#include <set>

namespace inkwane::finding {
namespace {

/// Share of the sheet's measured blocks, and number of square centimetres, at which a colour is as
/// likely an ink of the print as a touch. Common practice, no source.
constexpr double kInkShare = 0.03, kInkPlaces = 8;

}  // namespace

cv::Vec3f mean_over(const cv::Mat& picture, const Patch& patch) {
  const cv::Scalar mean = cv::mean(picture(patch.bounds), patch.inside);
  return {static_cast<float>(mean[0]), static_cast<float>(mean[1]), static_cast<float>(mean[2])};
}

Elsewhere elsewhere(const SheetView& view, const FirstStage& first, const Patch& patch,
                    const cv::Vec3f& lab) {
  constexpr double kPlaceMm = 10;
  constexpr int kStride = 2;
  const int place =
      std::max(1, static_cast<int>(kPlaceMm / (block_of(view) * view.input->geometry.pitch_mm)));
  // About the patch the same wash goes on, thinner.
  const cv::Rect near(patch.bounds.x - place / 4, patch.bounds.y - place / 4,
                      patch.bounds.width + place / 2, patch.bounds.height + place / 2);
  Elsewhere other;
  std::set<std::pair<int, int>> places;
  for (int y = 0; y < first.lab.rows; y += kStride) {
    const auto* row = first.lab.ptr<cv::Vec3f>(y);
    const uchar* added = first.named.added.ptr<uchar>(y);
    for (int x = 0; x < first.lab.cols; x += kStride) {
      const cv::Vec3f d = row[x] - lab;
      if (!(d.dot(d) < kAlikeLab * kAlikeLab) || added[x] != 0 || near.contains({x, y})) continue;
      other.blocks += kStride * kStride;
      places.emplace(x / place, y / place);
    }
  }
  other.places = static_cast<int>(places.size());
  return other;
}

double rarity(const SheetView& view, const Patch& patch, const Elsewhere& other) {
  const double sheet =
      cv::countNonZero(view.input->sheet) / static_cast<double>(block_of(view) * block_of(view));
  const double share = (other.blocks + patch.pixels) / sheet / kInkShare,
               places = other.places / kInkPlaces;
  return 1 / (1 + share * share + places * places);
}

}  // namespace inkwane::finding
