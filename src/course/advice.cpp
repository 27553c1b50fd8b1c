#include "course/advice.hpp"

#include <cmath>

#include <fmt/format.h>

namespace inkwane::course {
namespace {

using results::Advice;
using results::Estimate;

constexpr const char *kGoOn = "go on", *kStop = "stop", *kCannotTell = "cannot tell";

bool above(const Estimate& estimate, double bar) {
  return estimate.ci95[0] > bar;
}
bool below(const Estimate& estimate, double bar) {
  return estimate.ci95[1] < bar;
}

std::vector<std::string> thresholds() {
  return {
      "Stop: the interval of what the last step removed includes zero and that of what it cost "
      "does not.",
      "Stop: the last step surely cost a larger share of the inks than it removed of the added "
      "colour (the interval of the difference lies below zero).",
      fmt::format("Stop: no added region stands out from what lies under it by CIEDE2000 {} or "
                  "more, just noticeable on heritage objects (Heritage Science 2022, "
                  "s40494-022-00767-6; not derived for halftones on aged paper).",
                  kJustNoticeable),
      "Go on: the last step surely removed added colour, surely a larger share than it cost of "
      "the inks, and the next is forecast to do so too, where there is a forecast.",
      "A share of added colour and a share of ink are weighed alike; a conservator may well "
      "weigh ink more."};
}

std::pair<std::string, std::string> judge(const Evidence& evidence) {
  if (!evidence.barred.empty()) return {kCannotTell, evidence.barred};
  if (evidence.contrast_dE00 && *evidence.contrast_dE00 < kJustNoticeable) {
    return {kStop, fmt::format("What remains of the added colour stands out by CIEDE2000 {:.1f} at "
                               "most, less than is just noticeable ({}).",
                               *evidence.contrast_dE00, kJustNoticeable)};
  }
  if (!evidence.removed || !evidence.lost || !evidence.balance) {
    return {kCannotTell, !evidence.removed
                             ? "What the last step removed of the added colour was not measured."
                             : "What the last step cost of the inks was not measured."};
  }
  const Estimate &removed = *evidence.removed, &lost = *evidence.lost, &balance = *evidence.balance;
  const std::string numbers =
      fmt::format("{} of the added colour against {} of the inks", percent(removed), percent(lost));
  if (!above(removed, 0) && above(lost, 0)) {
    return {kStop, fmt::format("The last step did not surely remove any more added colour, but it "
                               "cost ink: {}.",
                               numbers)};
  }
  if (below(balance, 0)) {
    return {kStop, fmt::format("The last step cost a larger share of the inks than it removed: {}.",
                               numbers)};
  }
  if (!above(removed, 0)) {
    return {kCannotTell,
            fmt::format("What the last step removed and what it cost are both within the "
                        "uncertainty: {}.",
                        numbers)};
  }
  if (!above(balance, 0)) {
    return {kCannotTell, fmt::format("Whether the last step took more added colour than ink is "
                                     "within the uncertainty: {}.",
                                     numbers)};
  }
  const auto& forecast = evidence.forecast;
  if (forecast && forecast->step_removed && forecast->step_lost &&
      forecast->step_removed->value <= forecast->step_lost->value) {
    return {kCannotTell,
            fmt::format("The last step took more added colour than ink ({}), but one more like it "
                        "is forecast to take {} against {}.",
                        numbers, percent(*forecast->step_removed), percent(*forecast->step_lost))};
  }
  return {kGoOn, fmt::format("The last step took {}, and added colour still shows.", numbers)};
}

}  // namespace

std::string percent(const Estimate& share) {
  const auto whole = [](double value) { return std::lround(100 * value); };  // no "-0"
  return fmt::format("{} % ({} to {} %)", whole(share.value), whole(share.ci95[0]),
                     whole(share.ci95[1]));
}

Advice advise(const Evidence& evidence) {
  auto [verdict, reason] = judge(evidence);
  return {std::move(verdict), std::move(reason), thresholds()};
}

}  // namespace inkwane::course
