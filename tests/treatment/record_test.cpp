// Protects: what the profession's codes ask of a record is read as written, and its slips are
// named.
#include <catch2/catch.hpp>

#include "tests/treatment/text.hpp"

using namespace inkwane;
using Catch::Matchers::Contains;
using test::kTwoStages;
using test::read;
using test::refusal;

TEST_CASE("object, record, stages and spot tests") {
  const Treatment t = read(R"(inkwane = 1
[object]
title = "Marlow Vale Nurseries"
maker = "unnamed printer"
owner = "Marlow Vale Nurseries"
marks = "stamp on the verso"
[record]
conservator = "the conservator"
purpose = "To take off colour added later."
condition_before = "Toned, soft."
past_treatment = "None known."
plan = "Bath, light."
consent_by = "the owner"
consent_date = 2026-03-01
variations = "One bath more."
[[stage]]
id = "BT"
kind = "before"
recto = "bt.tif"
[[stage]]
id = "AT"
kind = "after"
recto = "at.tif"
condition = "damp"
dried = 2026-03-08
[[region]]
id = "petals"
side = "recto"
role = "ink"
polygon = [[0, 0], [9, 0], [9, 9]]
[[spot_test]]
medium = "red of the petals"
liquid = "calcium hydroxide 0.4 g/L"
region = "petals"
ph = 11.9
dwell_minutes = 15
seen_on_sheet = "no change"
seen_on_blotter = "faint pink"
when = 2026-03-01
who = "the conservator"
note = "wet and dry"
)");
  CHECK(t.object.maker == "unnamed printer");
  CHECK(t.object.owner == "Marlow Vale Nurseries");
  CHECK(t.object.marks == "stamp on the verso");
  CHECK(t.record.conservator == "the conservator");
  CHECK(t.record.purpose == "To take off colour added later.");
  CHECK(t.record.condition_before == "Toned, soft.");
  CHECK(t.record.past_treatment == "None known.");
  CHECK(t.record.plan == "Bath, light.");
  CHECK(t.record.consent_by == "the owner");
  CHECK(t.record.consent_date == "2026-03-01");
  CHECK(t.record.variations == "One bath more.");
  CHECK(t.stages[0].condition == Condition::dry);
  CHECK(t.stages[1].kind == "after");
  CHECK(t.stages[1].condition == Condition::damp);
  CHECK(t.stages[1].dried == "2026-03-08");
  REQUIRE(t.spot_tests.size() == 1);
  CHECK(t.spot_tests[0].medium == "red of the petals");
  CHECK(t.spot_tests[0].ph == 11.9);
  CHECK(t.spot_tests[0].dwell_minutes == 15.0);
  CHECK(t.spot_tests[0].seen_on_blotter == "faint pink");
  CHECK(t.spot_tests[0].when == "2026-03-01");
}

TEST_CASE("slips in the record are named") {
  CHECK_THAT(refusal(kTwoStages + "[record]\nconsent = true\n"), Contains("\"consent\""));
  CHECK_THAT(refusal(kTwoStages + "[record]\nconsent_date = \"soon\"\n"), Contains("date"));
  CHECK_THAT(refusal(kTwoStages + "condition = \"moist\"\n"), Contains("\"damp\""));
  CHECK_THAT(refusal(kTwoStages + "kind = \"later\"\n"), Contains("follow-up"));
  CHECK_THAT(refusal(kTwoStages + "dried = \"yesterday\"\n"), Contains("dried"));
  CHECK_THAT(refusal(kTwoStages + "[[spot_test]]\nliquid = \"water\"\n"), Contains("\"medium\""));
  CHECK_THAT(refusal(kTwoStages + "[[spot_test]]\nmedium = \"red\"\nliquid = \"water\"\nph = 15\n"),
             Contains("from 0 to 14"));
  CHECK_THAT(
      refusal(kTwoStages + "[[spot_test]]\nmedium = \"red\"\nliquid = \"water\"\nregion = \"x\"\n"),
      Contains("names no region"));
}
