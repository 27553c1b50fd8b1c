// The trade-off over the stages: what was gained, what it cost, and whether to go on.
#include <algorithm>

#include "report/content/content.hpp"
#include "report/draw/draw.hpp"
#include "report/figures.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

using Align = Column::Align;
using results::Course;
using results::Estimate;

Text share_of(const Context& context, const std::optional<Estimate>& estimate) {
  return estimate ? context.measured(percent(estimate->value, 0)) : plain(say("common.none"));
}

std::string ends_of(const std::optional<Estimate>& estimate) {
  return percent_interval(estimate ? results::Interval(estimate->ci95) : std::nullopt);
}

void add_curve(Document& document, const Context& context, const Course& course) {
  std::vector<TradeOffPoint> points;
  for (const results::CoursePoint& point : course.points)
    if (point.removed && point.lost) points.push_back({point.stage, *point.removed, *point.lost});
  if (points.size() > 1) {
    Plot plot = trade_off_curve(points);
    plot.caption = context.measured(say("course.curve"));
    plot.alt = say("course.curve_alt");
    document.add({plot, false, false, false});
  }
  if (course.points.empty()) return;
  Table table;
  table.label = say("course.title");
  table.columns = {
      {say("course.stage"), Align::left, 0.8}, {say("course.minutes"), Align::right, 1},
      {say("course.dose"), Align::right, 1},   {say("course.removed"), Align::right, 1},
      {say("course.ci"), Align::right, 1.2},   {say("course.lost"), Align::right, 1},
      {say("course.ci"), Align::right, 1.2}};
  for (const results::CoursePoint& point : course.points)
    table.rows.push_back({cell(strong(point.stage)), cell(decimal(point.minutes, 0)),
                          cell(decimal(point.dose_j_per_cm2, 1)),
                          cell(share_of(context, point.removed)), cell(ends_of(point.removed)),
                          cell(share_of(context, point.lost)), cell(ends_of(point.lost))});
  document.add({table, false, false, false});
}

/// What each place of a role kept, or what is left there, at each stage since the first.
std::vector<ShareLine> lines_of(const Context& context, Role role) {
  std::vector<ShareLine> lines;
  for (const results::Region& region : context.results.regions) {
    if (region.role != role || region.stages.empty()) continue;
    ShareLine line{name_of(region), {{region.stages.front().first, {1, {1, 1}}}}};
    for (const results::RegionChange& change : region.changes) {
      const bool ink = role == Role::ink;
      const auto& value = ink ? change.strength_kept : change.residual;
      const auto& ends = ink ? change.strength_kept_ci95 : change.residual_ci95;
      if (change.from != region.stages.front().first || !known(value)) continue;
      line.points.push_back({change.to, {*value, ends.value_or(std::array{*value, *value})}});
    }
    if (line.points.size() > 1) lines.push_back(std::move(line));
  }
  return lines;
}

/// Added colours and inks beside each other, never in one: what goes is a gain here, a loss there.
void add_places(Document& document, const Context& context) {
  const auto added = lines_of(context, Role::added), inks = lines_of(context, Role::ink);
  if (added.empty() && inks.empty()) return;
  std::vector<std::string> stages;
  for (const Stage& stage : context.results.stages) stages.push_back(stage.id);
  document.add(part_heading(say("course.places"), "course-places"));
  Plot plot =
      shares_chart(stages, {say("course.added_left"), added}, {say("course.ink_kept"), inks});
  plot.caption = context.measured(say("course.places_caption"));
  plot.alt = say("course.places_alt");
  document.add({plot, false, false, false});
}

void add_decays(Document& document, const Context& context, const Course& course, Role role) {
  if (std::none_of(course.decays.begin(), course.decays.end(),
                   [role](const results::Decay& decay) { return decay.role == role; }))
    return;
  Table table;
  table.label = say(role == Role::added ? "course.decay" : "course.decay_ink");
  document.add(part_heading(table.label));
  table.columns = {
      {say("course.region"), Align::left, 2},
      {say("course.against"), Align::left, 1},
      {say("course.rate"), Align::right, 1.6},
      {say(role == Role::added ? "course.floor" : "course.floor_ink"), Align::right, 1.6},
      {say("course.note"), Align::left, 3}};
  for (const results::Decay& decay : course.decays) {
    if (decay.role != role) continue;
    const auto* region = context.region(decay.region);
    const std::string key = "course.against_" + decay.against;
    std::string rate = say("common.none");
    if (decay.rate)
      rate = say("course.estimate", fmt::arg("value", fmt::format("{:.3g}", decay.rate->value)),
                 fmt::arg("low", fmt::format("{:.2g}", decay.rate->ci95[0])),
                 fmt::arg("high", fmt::format("{:.2g}", decay.rate->ci95[1])));
    table.rows.push_back({cell(region == nullptr ? decay.region : name_of(*region)),
                          cell(says(key) ? say(key) : decay.against), cell(rate),
                          cell(decay.floor ? estimate(decay.floor) : say("common.none")),
                          cell(decay.note)});
  }
  document.add({table, false, false, false});
}

void add_advice(Document& document, const Course& course) {
  if (course.last_step)
    document.add(paragraph(say("course.last", fmt::arg("from", course.last_step->from),
                               fmt::arg("to", course.last_step->to),
                               fmt::arg("removed", estimate(course.last_step->removed)),
                               fmt::arg("lost", estimate(course.last_step->lost)))));
  if (course.forecast) {
    const auto& forecast = *course.forecast;
    if (forecast.removed || forecast.lost)
      document.add(paragraph(say("course.forecast", fmt::arg("from", forecast.like_from),
                                 fmt::arg("to", forecast.like_to),
                                 fmt::arg("removed", estimate(forecast.removed)),
                                 fmt::arg("lost", estimate(forecast.lost)))));
    if (!forecast.note.empty()) document.add(paragraph(forecast.note, Paragraph::Look::note));
  }
  if (!course.advice) return;
  const auto& advice = *course.advice;
  document.add(part_heading(say("course.advice"), "advice"));
  const char* verdict = advice.verdict == "go on"  ? "course.go_on"
                        : advice.verdict == "stop" ? "course.stop"
                                                   : "course.cannot_tell";
  document.add(paragraph(strong(say(verdict)) + plain(" " + advice.reason), Paragraph::Look::lead));
  List list;
  for (const std::string& threshold : advice.thresholds) list.items.push_back(plain(threshold));
  if (!list.items.empty()) document.add({list, false, false, false});
  document.add(paragraph(say("course.advice_note"), Paragraph::Look::note));
}

}  // namespace

void add_course(Document& document, const Context& context) {
  const auto& course = context.results.course;
  document.add(section(say("course.title"), "course", say("common.interpretation")));
  if (!course) {
    document.add(
        paragraph(say(context.results.stages.size() < 2 ? "course.none" : "course.not_had")));
    return;
  }
  document.add(intro(say("course.intro")));
  add_curve(document, context, *course);
  add_places(document, context);
  add_decays(document, context, *course, Role::added);
  add_decays(document, context, *course, Role::ink);
  add_advice(document, *course);
  List list;
  list.look = List::Look::warnings;
  for (const std::string& warning : course->warnings) list.items.push_back(warning_text(warning));
  if (!list.items.empty()) document.add({list, false, false, false});
}

}  // namespace inkwane::report
