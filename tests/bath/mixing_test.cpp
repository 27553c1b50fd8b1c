// Protects: dilution is C1 V1 = C2 V2 in all the ways a person may state it, and what cannot be is
// refused with the slip of units named.
#include "bath/mixing.hpp"

#include <cmath>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

using namespace inkwane;
using bath::mix;
using bath::MixingInput;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;

namespace {

MixingInput stock(double g_per_l) {
  MixingInput input;
  input.stock_g_per_l = g_per_l;
  return input;
}

std::string refusal(const MixingInput& input) {
  try {
    (void)mix(input);
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::usage);
    return error.what();
  }
  return "accepted";
}

}  // namespace

TEST_CASE("1.6 g/L, 100 mL in 400 mL, is 0.400 g/L however it is stated") {
  MixingInput by_tray = stock(1.6), by_water = stock(1.6), by_parts = stock(1.6),
              by_aim = stock(1.6);
  by_tray.stock_ml = by_water.stock_ml = 100;
  by_tray.tray_ml = by_parts.tray_ml = by_aim.tray_ml = 400;
  by_water.water_ml = 300;
  by_parts.parts = {1, 3};
  by_aim.want_g_per_l = 0.4;
  for (const MixingInput& input : {by_tray, by_water, by_parts, by_aim}) {
    const bath::Mixture mixture = mix(input);
    CHECK_THAT(mixture.factor, WithinRel(4.0, 1e-12));
    CHECK_THAT(mixture.g_per_l, WithinRel(0.4, 1e-12));
    CHECK_THAT(mixture.stock_ml.value(), WithinRel(100.0, 1e-12));
    CHECK_THAT(mixture.water_ml.value(), WithinRel(300.0, 1e-12));
    CHECK_THAT(mixture.tray_ml.value(), WithinRel(400.0, 1e-12));
  }
}

TEST_CASE("parts without a tray give the concentration and no volumes") {
  MixingInput input = stock(1.6);
  input.parts = {2, 3};
  CHECK_THAT(mix(input).factor, WithinRel(2.5, 1e-12));
  CHECK_THAT(mix(input).g_per_l, WithinRel(0.64, 1e-12));
  CHECK_FALSE(mix(input).tray_ml);
}

TEST_CASE("nothing but a stock is the stock undiluted") {
  CHECK(mix(stock(1.6)).factor == 1);
  CHECK(mix(stock(1.6)).g_per_l == 1.6);
}

TEST_CASE("what cannot be is refused") {
  MixingInput input = stock(1.6);
  SECTION("more stock than the tray holds") {
    input.stock_ml = 500;
    input.tray_ml = 400;
    CHECK_THAT(refusal(input), Contains("do not fit") && !Contains("unit"));
  }
  SECTION("litres taken for millilitres: 500 L for a tray of half a litre") {
    input.stock_ml = 500'000;
    input.tray_ml = 500;
    CHECK_THAT(refusal(input), Contains("do not fit") && Contains("Is the unit right?"));
  }
  SECTION("a bath stronger than its stock") {
    input.want_g_per_l = 2;
    CHECK_THAT(refusal(input), Contains("stronger stock") && !Contains("unit"));
  }
  SECTION("milligrams taken for grams") {
    input.want_g_per_l = 1600;
    CHECK_THAT(refusal(input), Contains("stronger stock") && Contains("Is the unit right?"));
  }
  SECTION("two ways at once") {
    input.stock_ml = 100;
    input.tray_ml = 400;
    input.parts = {1, 3};
    CHECK_THAT(refusal(input), Contains("more than one way"));
  }
  SECTION("water and tray both") {
    input.stock_ml = 100;
    input.water_ml = 300;
    input.tray_ml = 500;
    CHECK_THAT(refusal(input), Contains("give one of them"));
  }
  SECTION("stock alone, water alone") {
    input.stock_ml = 100;
    CHECK_THAT(refusal(input), Contains("says nothing of the dilution"));
    input.stock_ml.reset();
    input.water_ml = 100;
    CHECK_THAT(refusal(input), Contains("needs the stock volume"));
  }
  SECTION("nothing, less than nothing, not a number") {
    for (const double bad : {0.0, -1.0, std::nan("")}) {
      MixingInput of_stock = stock(bad), of_tray = stock(1.6);
      of_tray.tray_ml = bad;
      CHECK_THAT(refusal(of_stock), Contains("not above 0"));
      CHECK_THAT(refusal(of_tray), Contains("tray volume") && Contains("not above 0"));
    }
  }
}

TEST_CASE("parts are read as they are written at the sink") {
  CHECK(bath::read_parts("1:3") == std::pair(1.0, 3.0));
  CHECK(bath::read_parts("1+3") == std::pair(1.0, 3.0));
  CHECK(bath::read_parts("2.5:0") == std::pair(2.5, 0.0));
  for (const char* bad : {"", "1", "1:", ":3", "0:3", "-1:3", "1:-3", "1:3:5", "a:b", "1:inf"}) {
    CHECK_THROWS_WITH(bath::read_parts(bad), Contains("such as 1:3"));
  }
}
