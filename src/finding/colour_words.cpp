#include "finding/colour_words.hpp"

#include <array>
#include <cmath>
#include <numbers>

namespace inkwane::finding {
namespace {

struct Hue {
  double below;  ///< degrees
  const char* word;
};
/// Of CIELAB's hue angle.
constexpr std::array<Hue, 9> kHues{{{10, "pink"},
                                    {42, "red"},
                                    {68, "orange"},
                                    {102, "yellow"},
                                    {190, "green"},
                                    {225, "blue-green"},
                                    {305, "blue"},
                                    {340, "violet"},
                                    {361, "pink"}}};

std::string hue_word(const LabD50& lab) {
  double hue = std::atan2(lab.b, lab.a) * 180 / std::numbers::pi;
  if (hue < 0) hue += 360;
  std::string word;
  for (const Hue& range : kHues) {
    if (hue < range.below) {
      word = range.word;
      break;
    }
  }
  const double chroma = std::hypot(lab.a, lab.b);
  const bool warm = word == "orange" || word == "yellow" || word == "red";
  if (warm && ((lab.L < 62 && chroma < 42) || (lab.L < 78 && chroma < 20))) return "brown";
  if (word == "pink" && lab.L < 55) return "crimson";
  if (word == "red" && lab.L > 72) return "pink";
  return word;
}

}  // namespace

std::string colour_words(const LabD50& lab) {
  constexpr double kGrey = 9, kDark = 38, kPale = 78, kPaleChroma = 35;
  if (std::hypot(lab.a, lab.b) < kGrey) {
    if (lab.L < 35) return "black";
    return lab.L < 55 ? "dark grey" : lab.L < 78 ? "grey" : "pale grey";
  }
  const std::string word = hue_word(lab);
  if (lab.L < kDark) return "dark " + word;
  if (lab.L > kPale && std::hypot(lab.a, lab.b) < kPaleChroma) return "pale " + word;
  return word;
}

}  // namespace inkwane::finding
