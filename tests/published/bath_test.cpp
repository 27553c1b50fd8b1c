// Calcium hydroxide, water and the eye's weightings against published values.
#include <cmath>

#include <catch2/catch.hpp>

#include "bath/calcium_hydroxide.hpp"
#include "bath/water.hpp"
#include "bath/weighting.hpp"

using namespace inkwane::bath;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// mol/L of a solution saturated at 25 °C, as NBS states it.
constexpr double kNbsGramsPerLitre = 0.0203 * kMolarMassLime;

}  // namespace

// Source: R. G. Bates, V. E. Bower, E. R. Smith, "Calcium hydroxide as a highly alkaline pH
// standard", J. Res. NBS 56(6), 1956, doi 10.6028/jres.056.040, abstract: saturated at 25 °C about
// 0.0203 M, pH 12.45, dilution value −0.28, −0.033 a degree.
TEST_CASE("NBS 1956: pH, dilution value and temperature coefficient") {
  CHECK_THAT(kNbsGramsPerLitre, WithinAbs(1.504, 5e-4));
  CHECK_THAT(lime_ph(kNbsGramsPerLitre, 25), WithinAbs(12.45, 0.015));
  const double dilution_value = lime_ph(kNbsGramsPerLitre / 2, 25) - lime_ph(kNbsGramsPerLitre, 25);
  CHECK_THAT(dilution_value, WithinAbs(-0.28, 0.02));
  const double coefficient = (lime_ph(kNbsGramsPerLitre, 30) - lime_ph(kNbsGramsPerLitre, 20)) / 10;
  CHECK_THAT(coefficient, WithinAbs(-0.033, 0.001));
}

// Source: the standard values assigned on that ground from 0 to 60 °C, as tables of pH standards
// give them; from memory. 12.454 agrees with the 12.45 of the abstract.
TEST_CASE("NBS standard values at the temperatures that are served") {
  struct Row {
    double celsius, ph;
  };
  for (const Row& row :
       {Row{0, 13.423}, Row{5, 13.207}, Row{10, 13.003}, Row{15, 12.810}, Row{20, 12.627},
        Row{25, 12.454}, Row{30, 12.289}, Row{35, 12.133}, Row{40, 11.984}}) {
    CAPTURE(row.celsius);
    CHECK_THAT(lime_ph(kNbsGramsPerLitre, row.celsius), WithinAbs(row.ph, 0.02));
  }
}

// Source: the same abstract, 0.0203 mol/L at 25 °C. A second series, of unknown origin, stands in
// teaching tables: 0.185, 0.176, 0.165, 0.153, 0.141 g in 100 g of water at 0 to 40 °C.
TEST_CASE("solubility agrees with other sources within its stated range") {
  CHECK_THAT(lime_saturation(25), WithinRel(kNbsGramsPerLitre, kSaturationShare + 0.005));
  const double taught[] = {1.85, 1.76, 1.65, 1.53, 1.41};
  for (int i = 0; i < 5; ++i)
    CHECK_THAT(lime_saturation(10.0 * i), WithinRel(taught[i] * water_density(10.0 * i), 0.06));
}

// Source: the analytical expression for H2O = H⁺ + OH⁻ that geochemists' open databases share
// (−283.9710, −0.05069842, 13323.00, 102.24447, −1119669.0), read in public source code; and
// minteq.v4.dat of the US Geological Survey, 13.997 at 25 °C.
TEST_CASE("ion product of water against independent expressions") {
  for (double t = 0; t <= 60; t += 5) {
    const double T = t + 273.15;
    const double log_k =
        -283.9710 - 0.05069842 * T + 13323.00 / T + 102.24447 * std::log10(T) - 1119669.0 / (T * T);
    CAPTURE(t);
    CHECK_THAT(water_pkw(t), WithinAbs(-log_k, 0.01));
  }
  CHECK_THAT(water_pkw(25), WithinAbs(13.995, 0.001));
}

// Source: density 0.99704 kg/L at 25 °C and 0.99984 at 0 °C, any handbook, from memory; relative
// permittivity 78.30 at 25 °C and 80.10 at 20 °C, Malmberg and Maryott 1956, from memory.
TEST_CASE("water") {
  CHECK_THAT(water_density(0), WithinAbs(0.99984, 1e-5));
  CHECK_THAT(water_density(25), WithinAbs(0.99705, 1e-5));
  CHECK_THAT(water_permittivity(20), WithinAbs(80.10, 0.01));
  CHECK_THAT(water_permittivity(25), WithinAbs(78.30, 0.01));
}

// Source: y-bar of the CIE 1931 observer, which is V(λ), to four decimals as in the public-domain
// program specrend.c by J. Walker, read in public source code.
TEST_CASE("luminous efficiency against a public-domain table of the CIE 1931 observer") {
  const double y_bar[] = {0.0000, 0.0001, 0.0001, 0.0002, 0.0004, 0.0006, 0.0012, 0.0022,
                          0.0040, 0.0073, 0.0116, 0.0168, 0.0230, 0.0298, 0.0380, 0.0480,
                          0.0600, 0.0739, 0.0910, 0.1126, 0.1390, 0.1693, 0.2080, 0.2586,
                          0.3230, 0.4073, 0.5030, 0.6082, 0.7100, 0.7932, 0.8620, 0.9149,
                          0.9540, 0.9803, 0.9950, 1.0000, 0.9950, 0.9786, 0.9520, 0.9154,
                          0.8700, 0.8163, 0.7570, 0.6949, 0.6310, 0.5668, 0.5030, 0.4412,
                          0.3810, 0.3210, 0.2650, 0.2170, 0.1750, 0.1382, 0.1070, 0.0816};
  double nm = 380;
  for (const double expected : y_bar) {
    CAPTURE(nm);
    CHECK_THAT(luminous_efficiency(nm), WithinAbs(expected, 5.5e-5));
    nm += 5;
  }
}

// Source: IEC 62471:2006, Table 4.2 (ICNIRP, Health Phys. 105(1), 2013, Table 2), values as in
// public source code that cites both.
TEST_CASE("blue-light hazard weighting") {
  struct Row {
    double nm, b;
  };
  for (const Row& row :
       {Row{300, 0.01}, Row{380, 0.01}, Row{400, 0.1}, Row{415, 0.8}, Row{435, 1}, Row{440, 1},
        Row{450, 0.94}, Row{455, 0.9}, Row{460, 0.8}, Row{470, 0.62}, Row{480, 0.45},
        Row{490, 0.22}, Row{500, 0.1}, Row{550, 0.01}, Row{600, 0.001}, Row{700, 0.001}}) {
    CAPTURE(row.nm);
    CHECK_THAT(blue_light_hazard(row.nm), WithinRel(row.b, 1e-9));
  }
}
