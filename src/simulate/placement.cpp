#include "simulate/placement.hpp"

#include <algorithm>
#include <cmath>

#include "simulate/random.hpp"

namespace inkwane::simulate {
namespace {

constexpr double kPi = 3.14159265358979323846;
/// Room about the sheet and the target: for the stage that lies most askew, and some.
double margin_mm(const Scene& scene) {
  constexpr double kLeast = 7, kBeyond = 3;
  const double half = std::max(scene.paper.width_mm, scene.paper.height_mm) / 2;
  double margin = kLeast;
  for (const auto& [stage, d] : scene.deformation) {
    const double grown = std::max({d.stretch_x, d.stretch_y, 1.0}) - 1;
    const double turned = std::abs(std::sin(d.rotation_deg * kPi / 180));
    const double shifted = std::max(std::abs(d.shift_x_mm), std::abs(d.shift_y_mm));
    margin = std::max(margin, kBeyond + half * (grown + turned) + shifted + d.cockle_mm);
  }
  return margin;
}

cv::Point2d turned(cv::Point2d p, double cosine, double sine) {
  return {cosine * p.x - sine * p.y, sine * p.x + cosine * p.y};
}

}  // namespace

Cockle::Cockle(double amplitude_mm, std::uint64_t seed) {
  if (amplitude_mm == 0) return;
  Random random(seed, 2);
  constexpr int kWaves = 8;
  // Each wave adds push²/2 to the mean square; the rms is to be half the amplitude.
  const double push = amplitude_mm / 2 * std::sqrt(2.0 / kWaves);
  for (int i = 0; i < kWaves; ++i) {
    const double length = random.uniform(30, 90);
    const double heading = random.uniform(0, 2 * kPi), direction = random.uniform(0, 2 * kPi);
    waves_.push_back({cv::Point2d(std::cos(heading), std::sin(heading)) * (2 * kPi / length),
                      cv::Point2d(std::cos(direction), std::sin(direction)) * push,
                      random.uniform(0, 2 * kPi)});
  }
}

cv::Point2d Cockle::at(cv::Point2d mm) const {
  cv::Point2d sum(0, 0);
  for (const Wave& wave : waves_) sum += wave.push_mm * std::sin(wave.per_mm.dot(mm) + wave.phase);
  return sum;
}

Placement::Placement(const Scene& scene, const std::string& stage, const std::string& side)
    : pixel_mm_(25.4 / scene.scanner.dpi),
      sheet_centre_(scene.paper.width_mm / 2, scene.paper.height_mm / 2) {
  const bool recto = side == "recto";
  const auto place = [&] {
    std::uint64_t n = recto ? 0 : 1;
    for (const std::string& other : scene.stages) {
      if (other == stage) break;
      n += 2;
    }
    return n;
  }();

  Deformation deformation;
  if (const auto found = scene.deformation.find(stage); found != scene.deformation.end()) {
    deformation = found->second;
  }
  // The verso is laid down on its own: askew by the same measures, another way.
  const double lay = recto ? 1 : -0.7;
  stretch_ = {deformation.stretch_x, deformation.stretch_y};
  const double angle = lay * deformation.rotation_deg * kPi / 180;
  cos_ = std::cos(angle);
  sin_ = std::sin(angle);
  cockle_ = Cockle(deformation.cockle_mm, scene.seed * 1000 + place);

  chart_.rows = scene.target_rows;
  chart_.columns = scene.target_columns;
  Random random(scene.seed, 3, place);
  const double jitter = place == 0 ? 0 : 1;  // the target is laid down anew for each scan
  const double turn = (scene.target_turn_deg + jitter * random.uniform(-0.4, 0.4)) * kPi / 180;
  card_cos_ = std::cos(turn);
  card_sin_ = std::sin(turn);
  const double nominal = scene.target_turn_deg * kPi / 180;
  const double c = std::abs(std::cos(nominal)), s = std::abs(std::sin(nominal));
  const cv::Point2d card(c * chart_.width_mm() + s * chart_.height_mm(),
                         s * chart_.width_mm() + c * chart_.height_mm());
  const cv::Point2d sheet = 2 * sheet_centre_;
  const double margin = margin_mm(scene);

  cv::Point2d bed = sheet + cv::Point2d(2 * margin, 2 * margin);
  bed_centre_ = sheet_centre_ + cv::Point2d(margin, margin);
  if (scene.target && scene.target_above) {
    card_centre_ = cv::Point2d(margin, margin) + card / 2;
    bed_centre_.y += card.y + margin;
    bed.y += card.y + margin;
    bed.x = std::max(bed.x, card.x + 2 * margin);
  } else if (scene.target) {
    card_centre_ = cv::Point2d(sheet.x + 2 * margin, margin) + card / 2;
    bed.x += card.x + margin;
    bed.y = std::max(bed.y, card.y + 2 * margin);
  }
  bed_centre_ += cv::Point2d(deformation.shift_x_mm, deformation.shift_y_mm) * lay;
  card_centre_ += jitter * cv::Point2d(random.uniform(-0.8, 0.8), random.uniform(-0.8, 0.8));
  scan_size_ = {cvRound(bed.x / pixel_mm_), cvRound(bed.y / pixel_mm_)};
}

cv::Point2d Placement::to_bed(cv::Point2d sheet_mm) const {
  const cv::Point2d from_centre = sheet_mm - sheet_centre_;
  const cv::Point2d stretched(stretch_.x * from_centre.x, stretch_.y * from_centre.y);
  return bed_centre_ + turned(stretched + cockle_.at(sheet_mm), cos_, sin_);
}

cv::Point2d Placement::to_sheet(cv::Point2d bed_mm) const {
  const cv::Point2d flat = turned(bed_mm - bed_centre_, cos_, -sin_);
  const auto undone = [&](cv::Point2d p) {
    return sheet_centre_ + cv::Point2d(p.x / stretch_.x, p.y / stretch_.y);
  };
  // The cockle's strain is well below 1, so the fixed point is reached by a factor of it a round.
  cv::Point2d sheet = undone(flat);
  for (int round = 0; round < 60; ++round) {
    const cv::Point2d next = undone(flat - cockle_.at(sheet));
    const double moved = cv::norm(next - sheet);
    sheet = next;
    if (moved < 1e-7) break;
  }
  return sheet;
}

cv::Point2d Placement::card_to_bed(cv::Point2d card_mm) const {
  const cv::Point2d half(chart_.width_mm() / 2, chart_.height_mm() / 2);
  return card_centre_ + turned(card_mm - half, card_cos_, card_sin_);
}

cv::Point2d Placement::bed_to_card(cv::Point2d bed_mm) const {
  const cv::Point2d half(chart_.width_mm() / 2, chart_.height_mm() / 2);
  return half + turned(bed_mm - card_centre_, card_cos_, -card_sin_);
}

}  // namespace inkwane::simulate
