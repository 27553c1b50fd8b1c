// What was done: the record as it was written down, by date.
#include "report/content/content.hpp"
#include "report/figures.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

void add_facts(Document& document, const Record& record) {
  Facts facts;
  std::vector<std::string> missing;
  const auto add = [&](const char* key, const std::string& text) {
    if (text.empty())
      missing.push_back(say(key));
    else
      facts.rows.emplace_back(say(key), plain(text));
  };
  add("record.purpose", record.purpose);
  add("record.condition", record.condition_before);
  add("record.past", record.past_treatment);
  add("record.plan", record.plan);
  const std::string day = record.consent_date.empty() ? "" : ", " + date(record.consent_date);
  add("record.consent", record.consent_by.empty() ? "" : record.consent_by + day);
  if (!record.variations.empty()) add("record.variations", record.variations);
  if (!facts.rows.empty()) document.add({facts, false, false, false});
  if (!missing.empty())
    document.add(paragraph(say("record.gaps", fmt::arg("names", names_in_words(missing))),
                           Paragraph::Look::note));
}

/// "bath: calcium hydroxide · stock 100 mL · …".
Text step_text(const Step& step) {
  Text text = strong(step.kind);
  std::string details;
  for (const Detail& detail : step.details) {
    if (detail.key == "when") continue;
    const auto [label, value] = in_words(detail);
    details += fmt::format("{}{} {}", details.empty() ? "  " : " · ", label, value);
  }
  if (const auto dose = dose_j_per_cm2(step))
    details += fmt::format(" · {} {:.3g} J/cm²", say("record.dose"), *dose);
  return text + plain(details);
}

std::string when(const Step& step) {
  const auto at = step.text("when");
  return at ? date(*at) : std::string();
}

void add_log(Document& document, const results::Results& results) {
  using Align = Column::Align;
  Table table;
  table.label = say("record.title");
  table.columns = {{say("record.date"), Align::left, 1.1},
                   {say("record.stage"), Align::left, 0.5},
                   {say("record.what"), Align::left, 5}};
  for (const Stage& stage : results.stages) {
    for (const Step& step : stage.steps)
      table.rows.push_back({cell(when(step)), cell(""), cell(step_text(step))});
    Text seen = plain(say("record.scanned", fmt::arg("stage", stage.id)));
    if (stage.condition != Condition::dry)
      seen = seen + plain("; " + say("record.scanned_condition",
                                     fmt::arg("condition", to_string(stage.condition))));
    if (!stage.dried.empty())
      seen = seen + plain("; " + say("record.dried", fmt::arg("date", date(stage.dried))));
    if (!stage.note.empty()) seen = seen + plain(". ") + soft(stage.note);
    table.rows.push_back({cell(date(stage.date)), cell(strong(stage.id)), cell(seen)});
  }
  document.add({table, false, false, false});
}

void add_spot_tests(Document& document, const Context& context) {
  using Align = Column::Align;
  document.add(part_heading(say("record.spot_tests")));
  if (context.results.spot_tests.empty()) {
    document.add(paragraph(say("record.no_spot_tests")));
    return;
  }
  Table table;
  table.label = say("record.spot_tests");
  for (const auto& [key, weight] : {std::pair{"record.date", 1.0},
                                    {"record.medium", 1.6},
                                    {"record.liquid", 1.4},
                                    {"record.test_for", 0.9},
                                    {"record.on_sheet", 1.6},
                                    {"record.on_blotter", 1.6}})
    table.columns.push_back({say(key), Align::left, weight});
  for (const SpotTest& test : context.results.spot_tests) {
    std::string place = test.place;
    if (const auto* region = context.region(test.region)) place = name_of(*region);
    std::string held;
    if (test.ph) held = say("record.ph", fmt::arg("value", fmt::format("{:g}", *test.ph)));
    if (test.dwell_minutes)
      held += (held.empty() ? "" : "; ") +
              say("record.minutes", fmt::arg("value", fmt::format("{:g}", *test.dwell_minutes)));
    const auto or_gap = [](const std::string& text) {
      return cell(text.empty() ? soft(say("record.not_recorded")) : plain(text));
    };
    Text medium = plain(test.medium);
    if (!place.empty() && place != test.medium) medium = medium + soft(", " + place);
    Text day = plain(date(test.when));
    if (!test.who.empty()) day = day + soft((test.when.empty() ? "" : ", ") + test.who);
    table.rows.push_back({cell(day), cell(medium), cell(test.liquid), cell(held),
                          or_gap(test.seen_on_sheet), or_gap(test.seen_on_blotter)});
    if (!test.note.empty()) table.rows.push_back({cell(soft(test.note))});
  }
  document.add({table, false, false, false});
}

}  // namespace

void add_record(Document& document, const Context& context) {
  Block heading = section(say("record.title"), "record", say("common.record"));
  heading.new_page = true;
  document.add(heading);
  document.add(intro(say("record.intro")));
  add_facts(document, context.results.record);
  add_log(document, context.results);
  add_spot_tests(document, context);
}

}  // namespace inkwane::report
