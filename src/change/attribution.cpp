#include "change/attribution.hpp"

#include <algorithm>

namespace inkwane::change {
namespace {

constexpr int kRounds =
    25;  // of coordinate descent; three channels and a few colours settle sooner
/// Share of its own weight by which a colour is held back for each time that another outweighs it
/// behind the place, squared; no more than five times, so that what is scarce can still be found.
constexpr float kPenalty = 0.01F, kMostPenalty = 5;
/// A thin stain's absorption, as broad bands see it, turns by some 5° against that of the dark
/// colour it came from: one colour counts alone where others come nearer by less than this share of
/// the gain's squared length (sin² 7°).
constexpr float kTurned = 0.015F;

using Amounts = std::array<float, kMostSources>;

/// A gain and the colours that may have made it.
class Gain {
 public:
  Gain(const float gain[3], const float weight[3], const std::vector<SourceColour>& colours,
       const Amounts& presence)
      : gain_(gain), weight_(weight), colours_(colours) {
    const float most = *std::max_element(presence.begin(), presence.end());
    for (std::size_t j = 0; j < colours.size(); ++j) {
      if (presence[j] <= kBehind) continue;
      for (int c = 0; c < 3; ++c) own_[j] += weight[c] * direction(j)[c] * direction(j)[c];
      const float times = std::min(most / presence[j], kMostPenalty);
      held_[j] = own_[j] * (1 + kPenalty * times * times);
    }
  }

  [[nodiscard]] float size() const { return square(gain_); }

  /// By all colours together; `rest` is what they leave.
  [[nodiscard]] Amounts together(float rest[3]) const {
    Amounts amount{};
    std::copy_n(gain_, 3, rest);
    for (int round = 0; round < kRounds; ++round) {
      for (std::size_t j = 0; j < colours_.size(); ++j) {
        if (held_[j] <= 0) continue;
        const float wanted = std::max(0.0F, (own_[j] * amount[j] + along(j, rest)) / held_[j]);
        const float step = wanted - amount[j];
        amount[j] = wanted;
        for (int c = 0; c < 3; ++c) rest[c] -= step * direction(j)[c];
      }
    }
    return amount;
  }

  /// By the one colour that explains most of it.
  [[nodiscard]] Amounts alone(float rest[3]) const {
    Amounts amount{};
    std::copy_n(gain_, 3, rest);
    float best = 0;
    std::size_t only = 0;
    for (std::size_t j = 0; j < colours_.size(); ++j) {
      if (held_[j] <= 0) continue;
      const float slope = std::max(0.0F, along(j, gain_));
      if (slope * slope / held_[j] > best) best = slope * slope / held_[j], only = j;
    }
    if (best <= 0) return amount;
    // No colour brought more than there came.
    amount[only] = std::min(along(only, gain_) / own_[only], gain_[0] + gain_[1] + gain_[2]);
    for (int c = 0; c < 3; ++c) rest[c] -= amount[only] * direction(only)[c];
    return amount;
  }

  [[nodiscard]] float square(const float v[3]) const {
    return weight_[0] * v[0] * v[0] + weight_[1] * v[1] * v[1] + weight_[2] * v[2] * v[2];
  }

 private:
  const float *gain_, *weight_;
  const std::vector<SourceColour>& colours_;
  Amounts own_{}, held_{};

  [[nodiscard]] const Eigen::Vector3f& direction(std::size_t j) const {
    return colours_[j].direction;
  }
  [[nodiscard]] float along(std::size_t j, const float v[3]) const {
    float sum = 0;
    for (int c = 0; c < 3; ++c) sum += weight_[c] * direction(j)[c] * v[c];
    return sum;
  }
};

}  // namespace

Attribution attribute(const float gain[3], const float weight[3],
                      const std::vector<SourceColour>& colours,
                      const std::array<float, kMostSources>& presence) {
  const Gain whole(gain, weight, colours, presence);
  Attribution result;
  float rest[3], rest_alone[3];
  result.amount = whole.together(rest);
  const Amounts one = whole.alone(rest_alone);
  if (whole.square(rest_alone) - whole.square(rest) < kTurned * whole.size()) {
    result.amount = one;
    std::copy_n(rest_alone, 3, rest);
  }
  for (int c = 0; c < 3; ++c) result.channel[c] = std::min(gain[c], gain[c] - rest[c]);
  result.explained = whole.size() > 0 ? 1 - whole.square(rest) / whole.size() : 0;
  return result;
}

}  // namespace inkwane::change
