#include "simulate/ink.hpp"

#include <cmath>

#include <catch2/catch.hpp>

namespace inkwane::simulate {

using Catch::WithinAbs;

namespace {

Spectrum flat(double value) {
  Spectrum result{};
  result.fill(value);
  return result;
}

}  // namespace

TEST_CASE("Kubelka–Munk: K/S of paper and ink add") {
  // K/S = (1 − R)² / 2R: .25 at R = .5 (handbook figure), so .25 more makes .5, whose R is
  // 1 + .5 − √(.25 + 1) = .381966.
  const Spectrum mixed = inked(InkLaw::kubelka_munk, flat(0.5), flat(0.25));
  CHECK_THAT(mixed[10], WithinAbs(0.381966, 1e-6));
  CHECK_THAT(inked(InkLaw::kubelka_munk, flat(0.5), flat(0))[10], WithinAbs(0.5, 1e-12));
}

TEST_CASE("Beer–Lambert: light crosses the film twice") {
  CHECK_THAT(inked(InkLaw::beer_lambert, flat(0.8), flat(0.5))[10], WithinAbs(0.08, 1e-12));
}

TEST_CASE("Solids have one colour under both laws, tints do not") {
  const Spectrum paper = paper_reflectance(0);
  for (const auto& [name, ink] : standard_inks()) {
    CAPTURE(name);
    Spectrum by_mixing = strength(InkLaw::kubelka_munk, ink);
    Spectrum by_film = strength(InkLaw::beer_lambert, ink);
    const auto difference = [&] {
      return ciede2000(xyz_to_lab(spectrum_to_xyz(inked(InkLaw::kubelka_munk, paper, by_mixing))),
                       xyz_to_lab(spectrum_to_xyz(inked(InkLaw::beer_lambert, paper, by_film))));
    };
    CHECK(difference() < 1e-6);
    for (int i = 0; i < kBands; ++i) {
      by_mixing[i] *= 0.5;
      by_film[i] *= 0.5;
    }
    CHECK(difference() > 0.5);
  }
}

TEST_CASE("Inks absorb everywhere, and no two look alike") {
  const auto inks = standard_inks();
  std::vector<Lab> colours;
  for (const auto& [name, ink] : inks) {
    CAPTURE(name);
    for (const double ks : absorption(ink)) CHECK(ks > 0);
    colours.push_back(xyz_to_lab(
        spectrum_to_xyz(inked(InkLaw::kubelka_munk, paper_reflectance(0), absorption(ink)))));
  }
  for (std::size_t i = 0; i < colours.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) CHECK(ciede2000(colours[i], colours[j]) > 5);
  }
}

TEST_CASE("Toning yellows the paper, less of it lightens") {
  const Lab plain = xyz_to_lab(spectrum_to_xyz(paper_reflectance(0)));
  const Lab washed = xyz_to_lab(spectrum_to_xyz(paper_reflectance(-0.2)));
  CHECK(washed[0] > plain[0] + 0.3);
  CHECK(washed[2] < plain[2] - 1);
}

}  // namespace inkwane::simulate
