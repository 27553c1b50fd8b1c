// Protects: the worked bath, that a measured pH stands before a calculated one, that nothing is
// guessed, and that every doubt is spoken of.
#include "bath/bath.hpp"

#include <algorithm>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

using namespace inkwane;
using bath::Bath;
using bath::BathInput;
using bath::make_bath;
using bath::PhMethod;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

/// 1.6 g/L, one part and three parts of water, 400 mL in the tray at 25 °C.
BathInput worked() {
  BathInput input;
  input.solution = "calcium hydroxide";
  input.stock_g_per_l = 1.6;
  input.parts = {1, 3};
  input.tray_ml = 400;
  input.celsius = 25;
  return input;
}

bool warned(const Bath& bath, const std::string& words) {
  return std::any_of(bath.warnings.begin(), bath.warnings.end(), [&](const std::string& warning) {
    return warning.find(words) != std::string::npos;
  });
}

}  // namespace

TEST_CASE("the worked bath: 0.400 g/L, 5.40 mM, 216 ppm of calcium, 0.16 g, pH about 12") {
  const Bath bath = make_bath(worked());
  CHECK_THAT(bath.g_per_l.value, WithinAbs(0.400, 1e-9));
  CHECK_THAT(bath.mmol_per_l.value().value, WithinAbs(5.40, 5e-3));
  CHECK_THAT(bath.calcium.value().mg_per_l.value, WithinAbs(216, 0.5));
  CHECK_THAT(bath.calcium->tray_mg.value().value, WithinAbs(86.5, 0.1));
  CHECK_THAT(bath.tray_g.value().value, WithinAbs(0.16, 1e-9));
  CHECK_THAT(bath.mixture.stock_ml.value(), WithinAbs(100, 1e-9));
  CHECK_THAT(bath.ph.calculated.value().value, WithinAbs(11.95, 0.0075));
  CHECK_FALSE(bath.doubtful);
}

TEST_CASE("ranges carry the stock, the volumes, the model and the temperature") {
  Bath bath = make_bath(worked());
  // √(8² + 2² + 2²) = 8.5 %.
  CHECK_THAT(bath.g_per_l.high / bath.g_per_l.value, WithinAbs(1.085, 5e-4));
  // √(0.03² + 0.036² + 0.017²): model, log10(1.085), half a degree at 0.033.
  CHECK_THAT(bath.ph.calculated->high - bath.ph.calculated->value, WithinAbs(0.050, 0.003));
  BathInput input = worked();
  input.celsius.reset();
  bath = make_bath(input);
  CHECK(bath.celsius_assumed);
  CHECK(warned(bath, "No temperature was given"));
  CHECK(bath.ph.calculated->high - bath.ph.calculated->value > 0.1);
  input.stock_percent = 1;
  CHECK(make_bath(input).g_per_l.high < 1.035 * 0.4);
}

TEST_CASE("dilute is not called mild") {
  const Bath bath = make_bath(worked());
  CHECK(warned(bath, "Dilute is not mild: diluting 4-fold lowers the calculated pH by only 0.5"));
  CHECK(warned(bath, "above 10"));
  BathInput input = worked();
  input.parts.reset();
  CHECK_FALSE(warned(make_bath(input), "Dilute is not mild"));
}

TEST_CASE("a measured pH wins") {
  BathInput input = worked();
  input.measured_ph = 8.2;
  input.ph_method = PhMethod::meter;
  Bath bath = make_bath(input);
  CHECK(bath.ph.best().value().value == 8.2);
  CHECK(bath.ph.calculated);
  CHECK(warned(bath, "The measured one stands"));
  CHECK_FALSE(warned(bath, "above 10"));
  CHECK_FALSE(bath.doubtful);
  SECTION("without a method the range is that of strips") {
    input.ph_method.reset();
    bath = make_bath(input);
    CHECK_THAT(bath.ph.measured->high, WithinAbs(8.7, 1e-9));
    CHECK(warned(bath, "was not said"));
  }
  SECTION("above what the solution can have, it is doubted") {
    input.measured_ph = 12.6;
    bath = make_bath(input);
    CHECK(bath.doubtful);
    CHECK(warned(bath, "wants calibrating"));
  }
  SECTION("close to the calculated one, nothing is said") {
    input.measured_ph = 11.9;
    bath = make_bath(input);
    CHECK_FALSE(warned(bath, "below the calculated one"));
    CHECK_FALSE(bath.doubtful);
  }
}

TEST_CASE("the usual washing range") {
  BathInput input = worked();
  input.ph_method = PhMethod::meter;
  const auto says = [&](double ph, const char* words) {
    input.measured_ph = ph;
    return warned(make_bath(input), words);
  };
  CHECK(says(6.0, "below the usual washing range"));
  CHECK_FALSE(says(8.0, "usual washing range"));
  CHECK(says(9.5, "above the usual washing range"));
  CHECK(says(9.95, "may be above 10"));
  CHECK(says(10.5, "is above 10"));
}

TEST_CASE("nothing is guessed of another solution") {
  BathInput input = worked();
  input.solution = "magnesium bicarbonate";
  Bath bath = make_bath(input);
  CHECK_THAT(bath.g_per_l.value, WithinAbs(0.4, 1e-9));
  CHECK_FALSE(bath.ph.best());
  CHECK_FALSE(bath.mmol_per_l);
  CHECK_FALSE(bath.calcium);
  CHECK(warned(bath, "no published value checks one"));
  input.stock_g_per_l.reset();
  CHECK_THROWS_WITH(make_bath(input), Contains("cannot be guessed"));
}

TEST_CASE("a saturated stock follows the temperature") {
  BathInput input = worked();
  input.stock_g_per_l.reset();
  input.celsius = 20;
  const Bath bath = make_bath(input);
  CHECK_THAT(bath.stock_g_per_l.value, WithinAbs(1.727, 1e-3));
  CHECK_THAT(bath.stock_g_per_l.high / bath.stock_g_per_l.value, WithinAbs(1.10, 1e-9));
  CHECK_FALSE(bath.doubtful);
}

TEST_CASE("more than dissolves, and slips of units, are doubtful") {
  BathInput input = worked();
  input.stock_g_per_l = 2.5;
  Bath bath = make_bath(input);
  CHECK(bath.doubtful);
  CHECK(warned(bath, "lies undissolved"));
  input.stock_g_per_l = 1600;
  CHECK(warned(make_bath(input), "Is the unit right? The stock of 1600 g/L"));
  input = worked();
  input.parts.reset();
  input.stock_ml = 0.1;  // litres, most likely
  bath = make_bath(input);
  CHECK(bath.doubtful);
  CHECK(warned(bath, "Is the unit right? The stock volume of 0.1 mL"));
  // Too thin for a calculated pH, too.
  CHECK_FALSE(bath.ph.calculated);
  CHECK(warned(bath, "carbon dioxide of the air decides"));
}

TEST_CASE("values beyond the sources are refused") {
  BathInput input = worked();
  SECTION("temperature") {
    input.celsius = 60;
    CHECK_THROWS_WITH(make_bath(input), Contains("60 °C") && Contains("0 to 40"));
  }
  SECTION("pH") {
    input.measured_ph = 15;
    CHECK_THROWS_WITH(make_bath(input), Contains("off the scale"));
  }
  SECTION("method without a value") {
    input.ph_method = PhMethod::meter;
    CHECK_THROWS_WITH(make_bath(input), Contains("give both"));
  }
  SECTION("no name") {
    input.solution.clear();
    CHECK_THROWS_AS(make_bath(input), Error);
  }
}

TEST_CASE("cautions go with the bath, and none of them promises anything") {
  const Bath lime = make_bath(worked());
  BathInput input = worked();
  input.solution = "ethanol and water";
  const Bath other = make_bath(input);
  const auto mentions = [](const Bath& bath, const char* words) {
    return std::any_of(bath.cautions.begin(), bath.cautions.end(), [&](const std::string& caution) {
      return caution.find(words) != std::string::npos;
    });
  };
  CHECK(mentions(lime, "goggles"));
  CHECK_FALSE(mentions(other, "goggles"));
  for (const Bath& bath : {lime, other}) {
    CHECK(mentions(bath, "the conservator decides"));
    CHECK(mentions(bath, "spot tests"));
    CHECK_FALSE(mentions(bath, "is safe"));
  }
}
