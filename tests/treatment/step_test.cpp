// Protects: a step's quantities arrive as numbers under keys that carry their unit, each kind has
// the keys that belong to it, and slips are named.
#include <catch2/catch.hpp>

#include "tests/treatment/text.hpp"

using namespace inkwane;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;

namespace {

std::string step(const std::string& keys) {
  return test::kTwoStages + "[[stage.step]]\n" + keys;
}

Step read_step(const std::string& keys) {
  return test::read(step(keys)).stages.at(1).steps.at(0);
}

std::string refusal(const std::string& keys) {
  return test::refusal(step(keys));
}

}  // namespace

TEST_CASE("a bath as it is written at the sink") {
  const Step bath = read_step(R"(kind = "bath"
solution = "calcium hydroxide"
lot = "12/26"
stock_g_per_l = 1.6
stock_ml = 100
water_ml = 300
parts = "1:3"
tray_ml = 400
temperature_c = 21.5
ph_in = 11.9
ph_out = 11.2
ph_method = "meter"
changes = 2
agitation = "rocked"
minutes = 45
when = 2026-03-05T10:30:00
who = "the conservator"
note = "yellow in the water"
)");
  CHECK(bath.number("stock_ml") == 100.0);
  CHECK(bath.number("temperature_c") == 21.5);
  CHECK(bath.number("ph_out") == 11.2);
  CHECK(bath.number("changes") == 2.0);
  CHECK(bath.text("ph_method") == "meter");
  CHECK(bath.text("when") == "2026-03-05T10:30:00");
  CHECK_FALSE(bath.number("solution"));
  CHECK_FALSE(bath.text("stock_ml"));
  CHECK_FALSE(bath.number("peak_nm"));
  CHECK(bath.details.front().key == "when");
  CHECK(bath.details.back().key == "note");
}

TEST_CASE("light and its dose") {
  const Step light = read_step(R"(kind = "light"
source = "blue LEDs"
peak_nm = 455
width_nm = 20
w_per_m2 = 50
distance_mm = 300
minutes = 240
sheet = "wet"
)");
  CHECK(light.number("peak_nm") == 455.0);
  CHECK_THAT(dose_j_per_cm2(light).value(), WithinRel(72.0, 1e-12));
  CHECK_FALSE(dose_j_per_cm2(read_step("kind = \"light\"\nw_per_m2 = 50\n")));
}

TEST_CASE("blotting") {
  const Step blotting =
      read_step("kind = \"blotting\"\nplaces = \"the petals\"\nnumber = 3\ndwell_minutes = 5\n");
  CHECK(blotting.number("number") == 3.0);
  CHECK(blotting.number("dwell_minutes") == 5.0);
}

TEST_CASE("every kind takes the common keys, and \"other\" takes all") {
  for (const char* kind : {"dry cleaning", "tape removal", "bath", "rinse", "blotting", "light",
                           "deacidification", "drying", "repair", "other"}) {
    CHECK(read_step("kind = \"" + std::string(kind) +
                    "\"\nsolution = \"x\"\nminutes = 1\nwhen = 2026-03-05\nwho = \"a\"\nnote = 5\n")
              .details.size() == 5);
  }
  CHECK(
      read_step("kind = \"other\"\nstock_ml = 1\npeak_nm = 455\nplaces = \"a\"\n").details.size() ==
      3);
}

TEST_CASE("slips in a step are named") {
  CHECK_THAT(refusal("kind = \"bath\"\npeak_nm = 455\n"),
             Contains("\"peak_nm\"") && Contains("stock_ml"));
  CHECK_THAT(refusal("kind = \"bath\"\nstock = 100\n"), Contains("\"stock\""));
  CHECK_THAT(refusal("kind = \"bath\"\nph_in = 19\n"),
             Contains("ph_in") && Contains("from 0 to 14"));
  CHECK_THAT(refusal("kind = \"bath\"\nstock_ml = -1\n"), Contains("stock_ml"));
  CHECK_THAT(refusal("kind = \"bath\"\nstock_ml = \"100\"\n"), Contains("must be a number"));
  CHECK_THAT(refusal("kind = \"bath\"\nph_method = \"eye\"\n"), Contains("\"strips\""));
  CHECK_THAT(refusal("kind = \"bath\"\nchanges = 1.5\n"), Contains("whole number"));
  CHECK_THAT(refusal("kind = \"light\"\nsheet = \"damp\"\n"), Contains("\"wet\" or \"dry\""));
}

TEST_CASE("details read in words, with their unit") {
  CHECK(in_words({"stock_ml", 100.0}) == std::pair<std::string, std::string>("stock", "100 mL"));
  CHECK(in_words({"w_per_m2", 50.0}) ==
        std::pair<std::string, std::string>("at the sheet", "50 W/m²"));
  CHECK(in_words({"solution", "water"}) ==
        std::pair<std::string, std::string>("solution", "water"));
  CHECK(in_words({"unheard of", "x"}) == std::pair<std::string, std::string>("unheard of", "x"));
}
