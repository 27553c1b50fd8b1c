#include "finding/print_colours.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "finding/mixture.hpp"

namespace inkwane::finding {
namespace {

/// CIEDE2000 within which a colour is one that is printed: uneven inking, a worn plate. Common
/// practice, no source.
constexpr double kSameColour = 4;
/// Amounts of an ink, relative to its region, in which it may be printed elsewhere.
constexpr std::array<float, 7> kAmounts{0.55F, 0.65F, 0.8F, 1, 1.2F, 1.45F, 1.75F};
/// A printed black: darker than this, and this grey.
constexpr float kBlackL = 42, kBlackC = 9;

Eigen::Vector3d vector(const cv::Vec3f& v) {
  return Eigen::Vector3f(v[0], v[1], v[2]).cast<double>();
}

}  // namespace

float likeness(const cv::Vec3f& a, const cv::Vec3f& b) {
  const double length = cv::norm(a) * cv::norm(b);
  return length > 0 ? a.dot(b) / static_cast<float>(length) : 0.0F;
}

PrintColours::PrintColours(const SheetView& view) {
  const auto& context = view.context();
  const change::Layer& first = view.layer(0);
  const auto mean = [&](std::size_t region) {
    const Eigen::Vector3f sharp =
        (change::sharpening() * change::weighted_mean(first.xyz, context.weights[region]))
            .cast<float>();
    return cv::Vec3f(sharp[0], sharp[1], sharp[2]);
  };
  const cv::Vec3f bare = sheet_paper(view, 0);
  for (std::size_t i = 0; i < view.input->regions.size(); ++i) {
    const Region* region = view.input->regions[i].region;
    if (!context.usable[i].front()) continue;
    if (region->role != Role::ink && region->role != Role::added) continue;
    cv::Vec3f under = bare;
    if (region->role == Role::added && region->under != "paper") {
      const int ink = change::find_region(*view.input, region->under);
      if (ink < 0 || !context.usable[static_cast<std::size_t>(ink)].front()) continue;
      under = mean(static_cast<std::size_t>(ink));
    }
    cv::Vec3f absorption = absorbed_above(Law::kubelka_munk, mean(i), under);
    for (int c = 0; c < 3; ++c) absorption[c] = std::max(0.0F, absorption[c]);
    (region->role == Role::ink ? inks_ : added_).push_back({region, absorption});
  }

  const auto lab_of = [&](const cv::Vec3f& above) {
    cv::Vec3f sharp;
    for (int c = 0; c < 3; ++c) sharp[c] = change::reflectance(change::ks(bare[c]) + above[c]);
    return lab_of_sharp(sharp);
  };
  for (std::size_t i = 0; i < inks_.size(); ++i) {
    for (const float amount : kAmounts) printed_.push_back(lab_of(inks_[i].absorption * amount));
    for (std::size_t j = 0; j < i; ++j) {
      for (const float amount : {0.85F, 1.0F, 1.15F})
        printed_.push_back(lab_of((inks_[i].absorption + inks_[j].absorption) * amount));
    }
  }
}

bool PrintColours::is_printed(const cv::Vec3f& lab) {
  if (lab[0] < kBlackL && std::hypot(lab[1], lab[2]) < kBlackC) return true;
  const auto bin = [](float v) { return static_cast<int>(std::floor(v)) + 128; };
  const int key = (bin(lab[0]) * 256 + bin(lab[1])) * 256 + bin(lab[2]);
  const auto known = known_.find(key);
  if (known != known_.end()) return known->second;
  const auto middle = [](float v) { return std::floor(static_cast<double>(v)) + 0.5; };
  const LabD50 colour{middle(lab[0]), middle(lab[1]), middle(lab[2])};
  const bool printed = std::any_of(printed_.begin(), printed_.end(), [&](const LabD50& p) {
    return ciede2000(p, colour) < kSameColour;
  });
  known_.emplace(key, printed);
  return printed;
}

double PrintColours::outside_mixtures(const cv::Vec3f& absorption) const {
  std::vector<Eigen::Vector3d> columns{Eigen::Vector3d::Ones().normalized()};  // black
  for (const NamedColour& ink : inks_) {
    const Eigen::Vector3d direction = vector(ink.absorption).normalized();
    const bool alike = std::any_of(columns.begin(), columns.end(),
                                   [&](const auto& other) { return other.dot(direction) > 0.999; });
    if (direction.allFinite() && !alike) columns.push_back(direction);
  }
  const Eigen::Vector3d target = vector(absorption).cwiseMax(0).normalized();
  if (!target.allFinite()) return 0;
  Eigen::Vector3d nearest = Eigen::Vector3d::Zero();
  const std::vector<double> weights = mixture(columns, target);
  for (std::size_t i = 0; i < columns.size(); ++i) nearest += weights[i] * columns[i];
  if (nearest.norm() == 0) return 90;
  return std::acos(std::clamp(nearest.normalized().dot(target), -1.0, 1.0)) * 180 /
         std::numbers::pi;
}

const NamedColour* PrintColours::most_like(const std::vector<NamedColour>& colours,
                                           const cv::Vec3f& absorption) {
  const NamedColour* best = nullptr;
  float most = 0;
  for (const NamedColour& colour : colours) {
    const float like = likeness(colour.absorption, absorption);
    if (like > most) most = like, best = &colour;
  }
  return best;
}

}  // namespace inkwane::finding
