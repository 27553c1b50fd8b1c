// Protects: the figures for calcium hydroxide, each model step by step. The rows are this project's
// own table for 25 °C (ideal, with Davies activity, with CaOH⁺ pairs), worked out apart from this
// code and rounded to 0.01; what NBS published is in tests/published/bath_test.cpp.
#include "bath/calcium_hydroxide.hpp"

#include <catch2/catch.hpp>

using namespace inkwane::bath;
using Catch::Matchers::WithinAbs;

namespace {

struct Row {
  double g_per_l, ideal, davies, complete;
};

// Rounding of the table and the second decimals of its constants.
constexpr double kTolerance = 0.0075;

}  // namespace

TEST_CASE("calculated pH at 25 °C, model by model") {
  for (const Row& row : {Row{1.600, 12.63, 12.54, 12.48}, Row{1.504, 12.60, 12.51, 12.46},
                         Row{0.752, 12.30, 12.23, 12.20}, Row{0.741, 12.30, 12.22, 12.19},
                         Row{0.400, 12.03, 11.97, 11.95}, Row{0.100, 11.43, 11.40, 11.39}}) {
    CAPTURE(row.g_per_l);
    CHECK_THAT(lime_ph(row.g_per_l, 25, PhModel::ideal), WithinAbs(row.ideal, kTolerance));
    CHECK_THAT(lime_ph(row.g_per_l, 25, PhModel::davies), WithinAbs(row.davies, kTolerance));
    CHECK_THAT(lime_ph(row.g_per_l, 25), WithinAbs(row.complete, kTolerance));
  }
}

TEST_CASE("a bath of 0.4 g/L is a little more alkaline when cooler") {
  CHECK_THAT(lime_ph(0.4, 20), WithinAbs(12.12, 0.01));
  CHECK(lime_ph(0.4, 10) > lime_ph(0.4, 20));
}

TEST_CASE("a fourfold dilution lowers the pH by about a half only") {
  const double fall = lime_ph(1.6, 25) - lime_ph(0.4, 25);
  CHECK(fall > 0.5);
  CHECK(fall < 0.56);
}

TEST_CASE("pH rises with concentration over all that dissolves") {
  double last = 0;
  for (double g_per_l = 0.05; g_per_l < 2; g_per_l += 0.05) {
    const double ph = lime_ph(g_per_l, 25);
    CHECK(ph > last);
    last = ph;
  }
}

TEST_CASE("solubility follows the handbook series and falls on warming") {
  // g in 100 g of water times the density of water.
  CHECK_THAT(lime_saturation(0), WithinAbs(1.89, 0.001));
  CHECK_THAT(lime_saturation(20), WithinAbs(1.73 * 0.9982, 0.001));
  CHECK_THAT(lime_saturation(25), WithinAbs(1.665 * 0.99705, 0.001));
  CHECK_THAT(lime_saturation(40), WithinAbs(1.41 * 0.9922, 0.001));
  for (int t = 0; t < 40; ++t) CHECK(lime_saturation(t) > lime_saturation(t + 1));
}

TEST_CASE("calcium is 0.5409 of calcium hydroxide") {
  CHECK_THAT(kCalciumShare, WithinAbs(0.5409, 5e-5));
}
