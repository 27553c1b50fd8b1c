#include "results/record_json.hpp"

#include <array>
#include <cmath>
#include <cstdlib>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

namespace inkwane::results {
namespace {

// Worked out from the step's own keys, and not read back.
constexpr const char* kDose = "dose_j_per_cm2";

template <typename Owner>
using Text = std::pair<const char*, std::string Owner::*>;

constexpr std::array<Text<Object>, 7> kObjectTexts{{{"title", &Object::title},
                                                    {"identifier", &Object::identifier},
                                                    {"client", &Object::client},
                                                    {"description", &Object::description},
                                                    {"maker", &Object::maker},
                                                    {"owner", &Object::owner},
                                                    {"marks", &Object::marks}}};
constexpr std::array<Text<Record>, 8> kRecordTexts{{{"conservator", &Record::conservator},
                                                    {"purpose", &Record::purpose},
                                                    {"condition_before", &Record::condition_before},
                                                    {"past_treatment", &Record::past_treatment},
                                                    {"plan", &Record::plan},
                                                    {"consent_by", &Record::consent_by},
                                                    {"consent_date", &Record::consent_date},
                                                    {"variations", &Record::variations}}};
constexpr std::array<Text<SpotTest>, 9> kSpotTestTexts{
    {{"medium", &SpotTest::medium},
     {"liquid", &SpotTest::liquid},
     {"region", &SpotTest::region},
     {"place", &SpotTest::place},
     {"seen_on_sheet", &SpotTest::seen_on_sheet},
     {"seen_on_blotter", &SpotTest::seen_on_blotter},
     {"when", &SpotTest::when},
     {"who", &SpotTest::who},
     {"note", &SpotTest::note}}};
constexpr std::array<Text<Stage>, 5> kStageTexts{{{"id", &Stage::id},
                                                  {"kind", &Stage::kind},
                                                  {"date", &Stage::date},
                                                  {"dried", &Stage::dried},
                                                  {"note", &Stage::note}}};

template <typename Owner, std::size_t N>
void put(Json& json, const Owner& owner, const std::array<Text<Owner>, N>& texts) {
  for (const auto& [name, member] : texts) json[name] = owner.*member;
}
template <typename Owner, std::size_t N>
void take(const Json& json, Owner& owner, const std::array<Text<Owner>, N>& texts) {
  for (const auto& [name, member] : texts) json.at(name).get_to(owner.*member);
}

Number number_from(const Json& json) {
  return json.is_null() ? Number() : Number(json.get<double>());
}

Json to_json(const Step& step) {
  Json out{{"kind", step.kind}};
  for (const Detail& detail : step.details) out[detail.key] = value_of(detail);
  if (const auto dose = dose_j_per_cm2(step)) out[kDose] = number(*dose);
  return out;
}

Step step_from(const Json& json) {
  Step step;
  for (const auto& [key, value] : json.items()) {
    if (key == "kind") {
      step.kind = value.get<std::string>();
    } else if (key != kDose) {
      Detail detail{key, {}};
      if (value.is_number()) {
        detail.value = value.get<double>();
      } else {
        detail.value = value.get<std::string>();
      }
      step.details.push_back(std::move(detail));
    }
  }
  return step;
}

Json to_json(const Stage& stage) {
  Json out = Json::object();
  put(out, stage, kStageTexts);
  out["condition"] = to_string(stage.condition);
  out["steps"] = Json::array();
  for (const Step& step : stage.steps) out["steps"].push_back(to_json(step));
  return out;
}

Stage stage_from(const Json& json) {
  Stage out;
  take(json, out, kStageTexts);
  const auto condition = json.at("condition").get<std::string>();
  bool known = false;
  for (const Condition each : {Condition::dry, Condition::damp, Condition::wet}) {
    if (to_string(each) != condition) continue;
    out.condition = each;
    known = true;
  }
  if (!known) throw std::invalid_argument(fmt::format("\"{}\" is not a condition", condition));
  for (const Json& step : json.at("steps")) out.steps.push_back(step_from(step));
  return out;
}

}  // namespace

Json value_of(const Detail& detail) {
  const auto* value = std::get_if<double>(&detail.value);
  return value != nullptr ? number(*value) : Json(std::get<std::string>(detail.value));
}

Json record_to_json(const Results& results) {
  Json out = Json::object();
  Json& object = out["object"] = Json::object();
  put(object, results.object, kObjectTexts);
  object["width_mm"] = number(results.object.width_mm);
  object["height_mm"] = number(results.object.height_mm);
  put(out, results.record, kRecordTexts);
  out["stages"] = Json::array();
  for (const Stage& stage : results.stages) out["stages"].push_back(to_json(stage));
  out["spot_tests"] = Json::array();
  for (const SpotTest& test : results.spot_tests) {
    Json entry = Json::object();
    put(entry, test, kSpotTestTexts);
    entry["ph"] = number(test.ph);
    entry["dwell_minutes"] = number(test.dwell_minutes);
    out["spot_tests"].push_back(std::move(entry));
  }
  return out;
}

void read_record(const Json& json, Results& results) {
  const Json& object = json.at("object");
  take(object, results.object, kObjectTexts);
  results.object.width_mm = number_from(object.at("width_mm"));
  results.object.height_mm = number_from(object.at("height_mm"));
  take(json, results.record, kRecordTexts);
  for (const Json& stage : json.at("stages")) results.stages.push_back(stage_from(stage));
  for (const Json& entry : json.at("spot_tests")) {
    SpotTest test;
    take(entry, test, kSpotTestTexts);
    test.ph = number_from(entry.at("ph"));
    test.dwell_minutes = number_from(entry.at("dwell_minutes"));
    results.spot_tests.push_back(std::move(test));
  }
}

}  // namespace inkwane::results
