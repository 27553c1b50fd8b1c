#include "change/attribution.hpp"

#include <algorithm>

namespace inkwane::change {
namespace {

constexpr int kRounds =
    25;  // of coordinate descent; three channels and a few colours settle sooner
/// Share of its own weight by which a colour is held back for each time that another outweighs it
/// behind the place, squared; no more than five times, so that what is scarce can still be found.
constexpr float kPenalty = 0.01F, kMostPenalty = 5;

}  // namespace

Attribution attribute(const float gain[3], const float weight[3],
                      const std::vector<SourceColour>& colours,
                      const std::array<float, kMostSources>& presence) {
  Attribution result;
  std::array<float, kMostSources> own{}, held{};
  const float most = *std::max_element(presence.begin(), presence.end());
  float total = 0;
  for (int c = 0; c < 3; ++c) total += weight[c] * gain[c] * gain[c];
  for (std::size_t j = 0; j < colours.size(); ++j) {
    if (presence[j] <= kBehind) continue;
    for (int c = 0; c < 3; ++c) {
      own[j] += weight[c] * colours[j].direction[c] * colours[j].direction[c];
    }
    const float times = std::min(most / presence[j], kMostPenalty);
    held[j] = own[j] * (1 + kPenalty * times * times);
  }
  float rest[3] = {gain[0], gain[1], gain[2]};
  for (int round = 0; round < kRounds; ++round) {
    for (std::size_t j = 0; j < colours.size(); ++j) {
      if (held[j] <= 0) continue;
      const Eigen::Vector3f& q = colours[j].direction;
      float slope = own[j] * result.amount[j];
      for (int c = 0; c < 3; ++c) slope += weight[c] * q[c] * rest[c];
      const float wanted = std::max(0.0F, slope / held[j]);
      const float step = wanted - result.amount[j];
      result.amount[j] = wanted;
      for (int c = 0; c < 3; ++c) rest[c] -= step * q[c];
    }
  }
  float left = 0;
  for (int c = 0; c < 3; ++c) {
    left += weight[c] * rest[c] * rest[c];
    result.channel[c] = std::min(gain[c], gain[c] - rest[c]);
  }
  result.explained = total > 0 ? 1 - left / total : 0;
  return result;
}

}  // namespace inkwane::change
