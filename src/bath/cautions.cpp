#include "bath/cautions.hpp"

namespace inkwane::bath {
namespace {

// Both steps.
constexpr const char* kEvenlyWet = "Keep the sheet evenly wet; local wetting risks tidelines.";
constexpr const char* kIrreversible =
    "Washing and the fading of ink are irreversible. Added and original colours may share dyes; "
    "neither light nor water knows which is original.";
constexpr const char* kScanner =
    "A damp sheet on a mains-powered scanner is a hazard to both; brittle or friable media do not "
    "belong under a lid.";
constexpr const char* kAdvice =
    "Advice only: these are sums, they know nothing of the sheet, and the conservator decides.";

}  // namespace

std::vector<std::string> bath_cautions(bool lime) {
  std::vector<std::string> out{
      "A calculated pH assumes a fresh solution free of carbon dioxide; air and acidic paper lower "
      "it. Measure in the tray, with a meter calibrated above pH 10, and enter that.",
      "Above pH 10 a bath is outside the usual washing range: a risk to oxidised cellulose, size, "
      "alkali-sensitive dyes and lakes, and papers with lignin. Confirm spot tests on every ink "
      "and "
      "colour at this pH and for the whole time."};
  if (lime) {
    // GHS: Danger, H315, H318, H335, as on safety data sheets of calcium hydroxide.
    out.emplace_back(
        "Calcium hydroxide does serious damage to eyes and irritates skin and airways: goggles, "
        "gloves, no dust. Local codes and the safety data sheet come first.");
  }
  out.emplace_back(
      "Ammonia vapour, where ammonia is used: ventilate, and never bring it near bleach.");
  for (const char* caution : {kEvenlyWet, kIrreversible, kScanner, kAdvice}) {
    out.emplace_back(caution);
  }
  return out;
}

std::vector<std::string> light_cautions() {
  return {
      "Blue LEDs: shield the emitters, no direct viewing, no mirror reflections; mains equipment "
      "away from the bath; record W/m², never lux.",
      "Ultraviolet lamps: eye and skin protection; their hazards are not among these figures.",
      kEvenlyWet,
      kIrreversible,
      kScanner,
      kAdvice};
}

std::vector<std::string> course_cautions() {
  return {
      "Advice only: the conservator decides. Nothing here says that a further step is without risk "
      "to the sheet.",
      kIrreversible,
      "These are estimates from an RGB scanner, not spectrophotometry; colour says nothing about "
      "the strength or ageing of the paper.",
      "A forecast holds for a step like the last one at most. Spot-test every ink and colour at "
      "the "
      "step's own pH, light and duration first; local codes and safety data sheets come first.",
      "What was washed or bleached can come back: scan again some weeks after drying."};
}

}  // namespace inkwane::bath
