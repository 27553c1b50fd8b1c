// Protects: a quantity a thousand times off is questioned by name, and an honest one is left alone.
#include "bath/slips.hpp"

#include <catch2/catch.hpp>

using namespace inkwane::bath;
using Catch::Matchers::Contains;

TEST_CASE("a thousand times off is questioned, either way") {
  const auto less = question("The stock volume", 0.5, "the tray volume", 500, "mL");
  REQUIRE(less);
  CHECK_THAT(*less, Contains("stock volume of 0.5 mL") && Contains("1000 times smaller") &&
                        Contains("tray volume of 500 mL"));
  const auto more = question("The stock", 1600, "a saturated solution", 1.7, "g/L");
  REQUIRE(more);
  CHECK_THAT(*more, Contains("941 times larger"));
}

TEST_CASE("what a conservator may well mean is not questioned") {
  CHECK_FALSE(question("The stock volume", 1, "the tray volume", 400, "mL"));
  CHECK_FALSE(question("The stock volume", 400, "the tray volume", 400, "mL"));
  CHECK_FALSE(question_tray(250));
  CHECK_FALSE(question_tray(80'000));
  CHECK_FALSE(question_irradiance(50));
  CHECK_FALSE(question_irradiance(1000));
}

TEST_CASE("trays and irradiances that nobody has are questioned") {
  CHECK_THAT(question_tray(0.4).value(), Contains("smaller"));
  CHECK_THAT(question_tray(400'000).value(), Contains("larger"));
  CHECK_THAT(question_irradiance(50'000).value(), Contains("sunlight"));
  CHECK_THAT(question_irradiance(0.005).value(), Contains("too faint"));
}
