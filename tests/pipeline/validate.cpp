// Runs the program on seeded simulated scenes of every kind, compares with their truth, and writes
// the table of accuracy.
//
//   validate PROGRAM SCENES OUTPUT.md [KIND…]
#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <fstream>
#include <iterator>
#include <map>
#include <mutex>
#include <thread>

#include <fmt/format.h>

#include "tests/pipeline/kinds.hpp"
#include "tests/pipeline/score.hpp"
#include "tests/support.hpp"

using namespace inkwane;

namespace {

/// One line of the table: bars at the median, the 95th percentile and the worst; NaN: none.
struct Bar {
  const char* figure;
  test::Errors test::Scores::*errors;
  double median, p95, worst;
};

constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

/// docs/method.md, "Accuracy to reach"; some kinds have bars of their own.
std::vector<Bar> bars_of(const std::string& kind) {
  const bool rough = kind == "drift-8-bit" || kind == "jpeg";
  const bool cockled = kind == "stretch";
  const bool kubelka_munk = !kind.ends_with("film");
  const auto accuracy = [kubelka_munk](double bar) { return kubelka_munk ? bar : kNone; };
  return {
      {"target corners, px", &test::Scores::corners_px, kNone, kNone, 2},
      {"target's left-out ΔE00", &test::Scores::left_out, 0.8, kNone, kNone},
      {"Lab of a region, ΔE00", &test::Scores::lab, 0.6, 1.5, kNone},
      {"ΔE00 between stages", &test::Scores::dE00, rough ? 0.15 : 0.10, rough ? 0.60 : 0.40, kNone},
      {"false ΔE00 of what did not change", &test::Scores::false_change, kNone, kNone, kNone},
      {"strength kept, solids", &test::Scores::strength, accuracy(0.02), accuracy(0.05), kNone},
      {"strength kept, one screen", &test::Scores::one_screen, accuracy(0.02), accuracy(0.05),
       kNone},
      {"strength kept, two screens", &test::Scores::two_screens, accuracy(0.03), accuracy(0.07),
       kNone},
      {"residual added colour", &test::Scores::residual, accuracy(0.03), accuracy(0.07), kNone},
      {"alignment, mm", &test::Scores::alignment_mm, cockled ? 0.03 : 0.02, cockled ? 0.09 : 0.06,
       kNone},
      {"difference map, ΔE00", &test::Scores::difference, 0.10, 0.40, kNone},
      {"share of the sheet at ΔE00 ≥ 2", &test::Scores::share_above_2, kNone, kNone,
       kind == "unchanged" ? 0.001 : kNone},
      {"bleed-through, 1 − overlap at ΔE00 ≥ 2", &test::Scores::missed_bleed, 0.07, kNone, kNone},
      {"bleed-through, 1 − overlap at ΔE00 ≥ 1", &test::Scores::missed_faint_bleed, 0.20, kNone,
       kNone},
      {"bleed-through, area off by", &test::Scores::bleed_area, 0.10, kNone, kNone},
      {"bleed-through, share of a source", &test::Scores::source_share, 0.10, kNone, kNone},
      {"false suspects a sheet", &test::Scores::false_suspects, kNone, kNone, 2},
      {"false tidelines a sheet", &test::Scores::false_tides, kNone, kNone, 1},
      {"rate of decay, relative", &test::Scores::rate, 0.15, kNone, kNone},
  };
}

std::string number(double value) {
  if (std::isnan(value)) return "";
  return value >= 0.0995 ? fmt::format("{:.2f}", value) : fmt::format("{:.3f}", value);
}

std::string against(double value, double bar) {
  if (std::isnan(bar)) return number(value);
  return fmt::format("{} {} {}", number(value), value <= bar ? "≤" : "**>**", number(bar));
}

double mean(const std::vector<double>& values) {
  double sum = 0;
  for (const double value : values) sum += value;
  return sum / static_cast<double>(values.size());
}

std::string table(const test::Kind& kind, int scenes, const test::Scores& scores) {
  std::string out = fmt::format(
      "## {}\n\n{}; {} scenes, {} region changes, {} of them called detectable.{}\n\n"
      "| figure | n | median, bar | p95, bar | worst, bar | where |\n|---|---|---|---|---|---|\n",
      kind.name, kind.what, scenes, scores.regions, scores.detectable,
      scores.unanswered > 0
          ? fmt::format(" Strengths and residuals refused: {}.", scores.unanswered)
          : "");
  for (const Bar& bar : bars_of(kind.name)) {
    const test::Errors& errors = scores.*bar.errors;
    if (errors.values.empty()) continue;
    out += fmt::format("| {} | {} | {} | {} | {} | {} |\n", bar.figure, errors.values.size(),
                       against(test::quantile(errors, 0.5), bar.median),
                       against(test::quantile(errors, 0.95), bar.p95),
                       against(errors.worst, bar.worst), errors.worst_at);
  }
  if (!scores.lost_ink.values.empty()) {
    const double bar = kind.name.ends_with("film") ? kNone : 0.05;
    out += fmt::format("| lost-ink map, mean | {} | {} | | | |\n", scores.lost_ink.values.size(),
                       against(mean(scores.lost_ink), bar));
  }
  const auto recall = [&out](const char* what, int found, int all) {
    if (all == 0) return;
    const double share = static_cast<double>(found) / all;
    out += fmt::format("| {}, found | {} | {:.2f} {} 0.80 | | | |\n", what, all, share,
                       share >= 0.8 ? "≥" : "**<**");
  };
  recall("undeclared touches", scores.touches_found, scores.touches);
  recall("tidelines at ΔE00 ≥ 2", scores.tides_found, scores.tides);
  for (const auto& [answer, count] : scores.advice)
    out += fmt::format("| advice, right → given: {} | {} | | | | |\n", answer, count);
  out += "\n| interval | n | holds the truth | half-width, median |\n|---|---|---|---|\n";
  for (const auto& [figure, held] : scores.covered) {
    const double share = static_cast<double>(std::count(held.begin(), held.end(), true)) /
                         static_cast<double>(held.size());
    out += fmt::format("| {} | {} | {:.1f} %{} | {} |\n", figure, held.size(), 100 * share,
                       share < 0.895 || share > 0.995 ? " (**bar 90–99**)" : "",
                       number(test::quantile(scores.half_width.at(figure), 0.5)));
  }
  return out + "\n";
}

/// What taking stray light off gains, against leaving it (docs/method.md, "Stray light").
std::string gains(const std::map<std::string, test::Errors>& false_changes) {
  const auto left = false_changes.find("neighbours-left");
  if (left == false_changes.end()) return {};
  const double before = test::quantile(left->second, 0.5);
  std::string out;
  for (const auto& [kind, bar] : {std::pair("neighbours-scans", 2.5), {"neighbours-card", 5.0}}) {
    const auto found = false_changes.find(kind);
    if (found == false_changes.end()) continue;
    const double gain = before / test::quantile(found->second, 0.5);
    out += fmt::format("- {}: the median false ΔE00 falls {:.1f} times, bar {} {}.\n", kind, gain,
                       bar, gain >= bar ? "reached" : "**not reached**");
  }
  return out.empty() ? out : "## stray light taken off, against leaving it\n\n" + out + "\n";
}

struct Job {
  const test::Kind* kind;
  std::uint64_t seed;
};

}  // namespace

int main(int argc, char** argv) {
  if (argc < 4) {
    fmt::print(stderr, "validate PROGRAM SCENES OUTPUT.md [KIND…]\n");
    return 2;
  }
  const std::filesystem::path program = argv[1];
  const int scenes = std::stoi(argv[2]);
  const std::vector<std::string> wanted(argv + 4, argv + argc);
  const auto is_wanted = [&wanted](const test::Kind& kind) {
    return wanted.empty() || std::find(wanted.begin(), wanted.end(), kind.name) != wanted.end();
  };
  const auto count = [scenes](const test::Kind& kind) { return std::max(1, scenes / kind.share); };

  std::vector<Job> jobs;
  for (const test::Kind& kind : test::kinds()) {
    if (!is_wanted(kind)) continue;
    for (int i = 0; i < count(kind); ++i)
      jobs.push_back({&kind, static_cast<std::uint64_t>(i) + 1});
  }
  std::vector<test::Scores> scores(jobs.size());
  std::vector<std::string> failures(jobs.size());
  std::atomic<std::size_t> next = 0, done = 0;
  const auto work = [&] {
    for (std::size_t i = next++; i < jobs.size(); i = next++) {
      const test::TemporaryFolder folder;
      try {
        scores[i] = test::score_scene(jobs[i].kind->scene(jobs[i].seed), folder.path(), program,
                                      jobs[i].kind->scanner);
      } catch (const std::exception& error) {
        failures[i] = error.what();
      }
      fmt::print(stderr, "{} of {}: {} {}{}\n", ++done, jobs.size(), jobs[i].kind->name,
                 jobs[i].seed, failures[i].empty() ? "" : " FAILED: " + failures[i]);
    }
  };
  {
    std::vector<std::jthread> workers;
    for (unsigned i = 1; i < std::thread::hardware_concurrency(); ++i) workers.emplace_back(work);
    work();
  }

  std::string text =
      "# Accuracy, measured\n\n"
      "Errors against the known truth of simulated scenes, as `scripts/validate` wrote them; bars "
      "are those of method.md. A bar that is not reached is marked **>**. Strengths of "
      "Beer–Lambert inks have no bar of accuracy, but their intervals must hold.\n\n";
  std::map<std::string, test::Errors> false_changes;
  for (const test::Kind& kind : test::kinds()) {
    if (!is_wanted(kind)) continue;
    test::Scores all;
    for (std::size_t i = 0; i < jobs.size(); ++i) {
      if (jobs[i].kind == &kind) all.add(scores[i]);
    }
    text += table(kind, count(kind), all);
    false_changes[kind.name] = all.false_change;
    for (std::size_t i = 0; i < jobs.size(); ++i) {
      if (jobs[i].kind == &kind && !failures[i].empty())
        text += fmt::format("**Scene {} failed:** {}\n\n", jobs[i].seed, failures[i]);
    }
  }
  text += gains(false_changes);
  std::ofstream(argv[3]) << text;
  return std::any_of(failures.begin(), failures.end(), [](const auto& f) { return !f.empty(); });
}
