#include "simulate/ink.hpp"

#include <cmath>

namespace inkwane::simulate {
namespace {

using Shape = AbsorptionBand::Shape;

double at(const AbsorptionBand& band, double nm) {
  const double x = (nm - band.nm) / band.width_nm;
  switch (band.shape) {
    case Shape::peak:
      return band.height * std::exp(-x * x / 2);
    case Shape::below:
      return band.height / (1 + std::exp(x));
    case Shape::above:
      return band.height / (1 + std::exp(-x));
  }
  return 0;
}

}  // namespace

std::map<std::string, Ink> standard_inks() {
  constexpr auto peak = Shape::peak, below = Shape::below, above = Shape::above;
  return {
      {"yellow", {{{below, 498, 9, 5.5}}, 0.015, false}},
      {"orange", {{{below, 545, 10, 4.5}}, 0.02, false}},
      {"red", {{{below, 582, 8, 9}, {peak, 440, 35, -1.5}}, 0.04, false}},
      {"magenta", {{{peak, 545, 32, 5}, {peak, 515, 25, 2.5}, {below, 420, 20, 0.6}}, 0.03, false}},
      {"blue",
       {{{peak, 645, 54, 9}, {peak, 600, 30, 2}, {above, 680, 15, 2.5}, {peak, 400, 22, 1.2}},
        0.15,
        false}},
      {"cyan", {{{peak, 635, 48, 4.2}, {peak, 680, 35, 2}, {peak, 400, 20, 0.3}}, 0.06, false}},
      {"green", {{{peak, 650, 48, 6}, {peak, 435, 38, 5}}, 0.3, false}},
      {"brown", {{{below, 560, 55, 4.2}}, 0.35, false}},
      {"black", {{{peak, 420, 60, 2}}, 14, false}},
      {"added-red", {{{peak, 525, 30, 5}, {peak, 560, 14, 4}, {peak, 440, 50, 2.2}}, 0.03, true}},
      {"added-orange", {{{below, 522, 12, 2.4}}, 0.02, true}},
      {"added-yellow", {{{peak, 440, 28, 2.6}}, 0.01, true}},
      {"added-green", {{{peak, 660, 34, 4}, {peak, 615, 25, 2}, {peak, 430, 30, 3.4}}, 0.12, true}},
      {"added-blue", {{{peak, 600, 40, 5}, {peak, 560, 22, 1.6}}, 0.05, true}},
      {"added-violet", {{{peak, 570, 44, 3.2}, {peak, 420, 30, 0.5}}, 0.06, true}},
      {"added-brown", {{{below, 520, 70, 1.8}}, 0.05, true}},
  };
}

Spectrum absorption(const Ink& ink) {
  Spectrum result{};
  for (int i = 0; i < kBands; ++i) {
    result[i] = ink.floor;
    for (const AbsorptionBand& band : ink.bands) result[i] += at(band, band_nm(i));
  }
  return result;
}

Spectrum paper_reflectance(double toning, double darkening) {
  // Chosen so that untoned paper is about Lab 87.5, 2, 12: rag and wood paper of a century's age,
  // common practice, no source.
  Spectrum result{};
  for (int i = 0; i < kBands; ++i) {
    const double ageing = 0.62 * std::exp(-(band_nm(i) - 400) / 120) + 0.02;
    result[i] = (1 - darkening) * 0.86 * std::exp(-(1 + toning) * ageing);
  }
  return result;
}

Spectrum strength(InkLaw law, const Ink& ink) {
  Spectrum result = absorption(ink);
  if (law == InkLaw::kubelka_munk) return result;
  const Spectrum paper = paper_reflectance(0);
  const Spectrum solid = inked(InkLaw::kubelka_munk, paper, result);
  for (int i = 0; i < kBands; ++i) result[i] = std::log10(paper[i] / solid[i]) / 2;
  return result;
}

Spectrum inked(InkLaw law, const Spectrum& paper, const Spectrum& strength) {
  Spectrum result{};
  for (int i = 0; i < kBands; ++i) {
    if (law == InkLaw::beer_lambert) {
      result[i] = paper[i] * std::pow(10.0, -2 * strength[i]);
    } else {
      // Kubelka–Munk for an opaque layer: K/S = (1 − R)² / 2R, and its inverse in the form that
      // does not cancel.
      const double q = (1 - paper[i]) * (1 - paper[i]) / (2 * paper[i]) + strength[i];
      result[i] = 1 / (1 + q + std::sqrt(q * q + 2 * q));
    }
  }
  return result;
}

double mean_strength(const Spectrum& strength) {
  double sum = 0;
  for (const double value : strength) sum += value;
  return sum / kBands;
}

}  // namespace inkwane::simulate
