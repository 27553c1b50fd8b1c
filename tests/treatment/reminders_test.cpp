// Protects: a slip of units, a missing spot test, a scan that came too soon and a missing follow-up
// are each spoken of once, and a damp scan is never compared with a dry one in silence.
#include "treatment/reminders.hpp"

#include <algorithm>

#include <catch2/catch.hpp>

#include "tests/treatment/text.hpp"

using namespace inkwane;
using Catch::Matchers::Contains;

namespace {

/// A treatment whose second stage has this step.
Treatment with(const std::string& keys) {
  return test::read(test::kTwoStages + "[[stage.step]]\n" + keys);
}

int count(const Treatment& treatment, const std::string& words) {
  const auto all = treatment::reminders(treatment);
  return static_cast<int>(std::count_if(all.begin(), all.end(), [&](const std::string& one) {
    return one.find(words) != std::string::npos;
  }));
}

}  // namespace

TEST_CASE("a quantity a thousand times off its tray or stock is questioned") {
  const std::string bath = "kind = \"bath\"\nsolution = \"calcium hydroxide\"\n";
  const Treatment litres = with(bath + "stock_ml = 0.1\ntray_ml = 400\n");
  CHECK(count(litres, "Is the unit right?") == 1);
  CHECK(count(litres, "Stage AT, step 1 (bath): Is the unit right? The stock volume of 0.1 mL") ==
        1);
  CHECK(count(with(bath + "stock_ml = 500000\ntray_ml = 500\n"), "The stock volume of 500000 mL") ==
        1);
  CHECK(count(with(bath + "stock_g_per_l = 1600\n"), "a saturated solution") == 1);
  CHECK(count(with(bath + "tray_ml = 0.4\n"), "A tray of 0.4 mL") == 1);
  CHECK(count(with(bath + "stock_ml = 500\ntray_ml = 400\n"), "stock and water together") == 1);
  CHECK(count(with("kind = \"light\"\nw_per_m2 = 50000\n"), "sunlight") == 1);
  CHECK(count(with(bath + "stock_g_per_l = 1.6\nstock_ml = 100\nwater_ml = 300\ntray_ml = 400\n"),
              "Is the unit right?") == 0);
}

TEST_CASE("a wet step asks for spot tests") {
  Treatment bath = with("kind = \"bath\"\n");
  CHECK(count(bath, "No spot test") == 1);
  bath.spot_tests.emplace_back();
  CHECK(count(bath, "No spot test") == 0);
  CHECK(count(with("kind = \"light\"\nsheet = \"wet\"\n"), "No spot test") == 1);
  CHECK(count(with("kind = \"light\"\nsheet = \"dry\"\n"), "No spot test") == 0);
  CHECK(count(with("kind = \"dry cleaning\"\n"), "No spot test") == 0);
}

TEST_CASE("a bath or light asks for a follow-up until there is one, and not too soon") {
  Treatment light = with("kind = \"light\"\n");
  CHECK(count(light, "No follow-up scan") == 1);
  CHECK(count(with("kind = \"repair\"\n"), "follow-up") == 0);
  Stage follow_up;
  follow_up.id = "FU";
  follow_up.kind = "follow-up";
  follow_up.date = "2026-04-15";
  light.stages[1].date = "2026-03-15";
  light.stages.push_back(follow_up);
  CHECK(treatment::reminders(light).empty());
  light.stages[2].date = "2026-03-20";
  CHECK(count(light, "came 5 days after stage AT") == 1);
}

TEST_CASE("a scan on the day of drying is too soon") {
  Treatment t = with("kind = \"drying\"\n");
  Stage& at = t.stages[1];
  at.date = "2026-03-01";
  const auto scanned = [&](const char* dried, const char* words) {
    at.dried = dried;
    return count(t, words) == 1;
  };
  CHECK(scanned("2026-03-01", "on the day it dried"));
  CHECK(scanned("2026-03-02", "before it had dried"));
  // Over the end of February.
  CHECK_FALSE(scanned("2026-02-28", "scan it again"));
  CHECK_FALSE(scanned("", "scan it again"));
}

TEST_CASE("damp is never compared with dry in silence") {
  Stage dry, damp, wet;
  dry.id = "BT";
  damp.id = "DT1";
  damp.condition = Condition::damp;
  wet.condition = Condition::wet;
  CHECK_THAT(treatment::damp_against_dry(dry, damp).value(),
             Contains("BT was scanned dry and DT1 damp"));
  CHECK(treatment::damp_against_dry(damp, dry));
  CHECK(treatment::damp_against_dry(damp, wet));
  CHECK_FALSE(treatment::damp_against_dry(dry, dry));
  CHECK_FALSE(treatment::damp_against_dry(damp, damp));
  CHECK_FALSE(treatment::not_dry(dry));
  CHECK_THAT(treatment::not_dry(wet).value(), Contains("scanned wet"));
}

TEST_CASE("a sheet that met a liquid is to be looked at under ultraviolet, until it was") {
  CHECK(count(with("kind = \"bath\"\n"), "tidelines") == 1);
  CHECK(count(with("kind = \"bath\"\nseen = \"no tideline under UV\"\n"), "tidelines") == 0);
  CHECK(count(with("kind = \"dry cleaning\"\n"), "tidelines") == 0);
  Treatment noted = with("kind = \"bath\"\n");
  noted.stages[1].note = "Looked at under Ultraviolet light.";
  CHECK(count(noted, "tidelines") == 0);
}
