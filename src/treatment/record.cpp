#include "treatment/record.hpp"

#include <limits>

namespace inkwane::treatment {

Record read_record(const Table& table) {
  table.allow_only({"conservator", "purpose", "condition_before", "past_treatment", "plan",
                    "consent_by", "consent_date", "variations"});
  Record record;
  record.conservator = table.text("conservator").value_or("");
  record.purpose = table.text("purpose").value_or("");
  record.condition_before = table.text("condition_before").value_or("");
  record.past_treatment = table.text("past_treatment").value_or("");
  record.plan = table.text("plan").value_or("");
  record.consent_by = table.text("consent_by").value_or("");
  record.consent_date = table.date("consent_date").value_or("");
  record.variations = table.text("variations").value_or("");
  return record;
}

SpotTest read_spot_test(const Table& table) {
  table.allow_only({"medium", "liquid", "region", "place", "ph", "dwell_minutes", "seen_on_sheet",
                    "seen_on_blotter", "when", "who", "note"});
  SpotTest test;
  test.medium = table.required_text("medium");
  test.liquid = table.required_text("liquid");
  test.region = table.text("region").value_or("");
  test.place = table.text("place").value_or("");
  test.ph = table.number("ph", 0, 14);
  test.dwell_minutes = table.number("dwell_minutes", 0, std::numeric_limits<double>::max());
  test.seen_on_sheet = table.text("seen_on_sheet").value_or("");
  test.seen_on_blotter = table.text("seen_on_blotter").value_or("");
  test.when = table.words("when").value_or("");
  test.who = table.text("who").value_or("");
  test.note = table.text("note").value_or("");
  return test;
}

}  // namespace inkwane::treatment
