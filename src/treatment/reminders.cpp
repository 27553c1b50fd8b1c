#include "treatment/reminders.hpp"

#include <algorithm>
#include <cctype>
#include <chrono>
#include <string_view>

#include <fmt/format.h>

#include "bath/calcium_hydroxide.hpp"
#include "bath/slips.hpp"
#include "treatment/step.hpp"

namespace inkwane::treatment {
namespace {

constexpr const char* kFollowUp = "follow-up";
// Common practice, no source: a sheet settles for a day after drying. Reversion shows after weeks
// (Lee, Bogaard, Feller 1989, as cited in the literature on light bleaching).
constexpr int kRestDays = 1, kFollowUpDays = 14;

using Question = std::optional<std::string>;

/// Days from one ISO 8601 date to another; none where either is no date.
std::optional<int> days_between(const std::string& from, const std::string& to) {
  const auto parse = [](const std::string& text) -> std::optional<std::chrono::sys_days> {
    if (text.size() != 10) return std::nullopt;
    const std::chrono::year_month_day date{
        std::chrono::year(std::stoi(text.substr(0, 4))),
        std::chrono::month(static_cast<unsigned>(std::stoi(text.substr(5, 2)))),
        std::chrono::day(static_cast<unsigned>(std::stoi(text.substr(8, 2))))};
    if (!date.ok()) return std::nullopt;
    return std::chrono::sys_days(date);
  };
  const auto first = parse(from), second = parse(to);
  if (!first || !second) return std::nullopt;
  return static_cast<int>((*second - *first).count());
}

/// Two quantities of one unit, where the step has both and neither is nought.
Question ask(const Step& step, std::string_view key, const char* name, std::string_view other_key,
             const char* other_name, const char* unit) {
  const auto value = step.number(key), other = step.number(other_key);
  if (!value || !other || !(*value > 0) || !(*other > 0)) return std::nullopt;
  return bath::question(name, *value, other_name, *other, unit);
}

std::vector<Question> questions(const Step& step) {
  std::vector<Question> out;
  const auto tray = step.number("tray_ml"), stock = step.number("stock_ml");
  out.push_back(ask(step, "stock_ml", "The stock volume", "tray_ml", "the tray volume", "mL"));
  out.push_back(ask(step, "water_ml", "The water volume", "tray_ml", "the tray volume", "mL"));
  out.push_back(ask(step, "stock_ml", "The stock volume", "water_ml", "the water volume", "mL"));
  if (tray && stock && *stock > *tray && !out.front()) {
    out.push_back(
        fmt::format("The stock of {:g} mL is more than the {:g} mL in the tray; the tray's "
                    "volume is stock and water together.",
                    *stock, *tray));
  }
  if (tray) out.push_back(bath::question_tray(*tray));
  const auto strength = step.number("stock_g_per_l");
  if (strength && *strength > 0 && step.text("solution") == "calcium hydroxide") {
    constexpr double kRoom = 20;
    out.push_back(bath::question("The stock", *strength, "a saturated solution",
                                 bath::lime_saturation(kRoom), "g/L"));
  }
  if (const auto light = step.number("w_per_m2")) out.push_back(bath::question_irradiance(*light));
  return out;
}

void ask_about_steps(const Treatment& treatment, std::vector<std::string>& out) {
  for (const Stage& stage : treatment.stages) {
    for (std::size_t i = 0; i < stage.steps.size(); ++i) {
      for (const Question& question : questions(stage.steps[i])) {
        if (!question) continue;
        out.push_back(fmt::format("Stage {}, step {} ({}): {}", stage.id, i + 1,
                                  stage.steps[i].kind, *question));
      }
    }
  }
}

template <typename Predicate>
bool any_step(const Treatment& treatment, const Predicate& predicate) {
  return std::any_of(treatment.stages.begin(), treatment.stages.end(), [&](const Stage& stage) {
    return std::any_of(stage.steps.begin(), stage.steps.end(), predicate);
  });
}

void ask_about_drying(const Stage& stage, std::vector<std::string>& out) {
  const auto rested = days_between(stage.dried, stage.date);
  if (!rested || *rested >= kRestDays) return;
  out.push_back(
      fmt::format("Stage {}: the sheet was scanned {}; its colour and size may still move, "
                  "so scan it again after a day or more.",
                  stage.id, *rested < 0 ? "before it had dried" : "on the day it dried"));
}

void ask_about_follow_up(const Treatment& treatment, std::vector<std::string>& out) {
  const auto& stages = treatment.stages;
  const auto follow_up = std::find_if(stages.begin(), stages.end(),
                                      [](const Stage& stage) { return stage.kind == kFollowUp; });
  if (follow_up == stages.end()) {
    if (any_step(treatment, [](const Step& s) { return s.kind == "light" || s.kind == "bath"; })) {
      out.emplace_back(
          "No follow-up scan is recorded: what was washed or bleached can come back; "
          "scan the sheet again some weeks after drying, as a stage of kind "
          "\"follow-up\".");
    }
    return;
  }
  if (follow_up == stages.begin()) return;
  const auto waited = days_between(std::prev(follow_up)->date, follow_up->date);
  if (waited && *waited < kFollowUpDays) {
    out.push_back(
        fmt::format("Stage {}: the follow-up came {} days after stage {}; reversion shows "
                    "after weeks, so scan again later.",
                    follow_up->id, *waited, std::prev(follow_up)->id));
  }
}

/// Whether the record speaks of ultraviolet at all.
bool mentions_uv(const Treatment& treatment) {
  const auto says = [](std::string text) {
    if (text.find("UV") != std::string::npos) return true;
    std::transform(text.begin(), text.end(), text.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return text.find("ultraviolet") != std::string::npos;
  };
  return says(treatment.record.variations) || says(treatment.record.plan) ||
         std::any_of(treatment.stages.begin(), treatment.stages.end(),
                     [&says](const Stage& stage) { return says(stage.note); }) ||
         any_step(treatment, [&says](const Step& step) {
           return says(step.text("seen").value_or("")) || says(step.text("note").value_or(""));
         });
}

/// Common practice, no source.
void ask_about_tidelines(const Treatment& treatment, std::vector<std::string>& out) {
  if (!any_step(treatment, is_wet) || mentions_uv(treatment)) return;
  out.emplace_back(
      "The sheet met a liquid and the record does not speak of ultraviolet: tidelines can be "
      "invisible in daylight, so look at the dry sheet under a long-wave UV lamp, eyes and skin "
      "protected, and write what was seen into the stage's note.");
}

}  // namespace

std::vector<std::string> reminders(const Treatment& treatment) {
  std::vector<std::string> out;
  ask_about_steps(treatment, out);
  if (treatment.spot_tests.empty() && any_step(treatment, is_wet)) {
    out.emplace_back(
        "No spot test is recorded, though the sheet met a liquid: record one for every "
        "medium, as [[spot_test]].");
  }
  for (const Stage& stage : treatment.stages) ask_about_drying(stage, out);
  ask_about_follow_up(treatment, out);
  ask_about_tidelines(treatment, out);
  return out;
}

std::optional<std::string> damp_against_dry(const Stage& from, const Stage& to) {
  if (from.condition == to.condition) return std::nullopt;
  return fmt::format(
      "{} was scanned {} and {} {}: water darkens paper and lets light through, so "
      "part of the change between them is water; scan the sheet dry.",
      from.id, to_string(from.condition), to.id, to_string(to.condition));
}

std::optional<std::string> not_dry(const Stage& stage) {
  if (stage.condition == Condition::dry) return std::nullopt;
  return fmt::format("The sheet was scanned {}: its colours are those of a {} sheet.",
                     to_string(stage.condition), to_string(stage.condition));
}

}  // namespace inkwane::treatment
