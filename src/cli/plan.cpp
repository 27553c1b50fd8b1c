#include <algorithm>
#include <memory>

#include <fmt/format.h>

#include <inkwane/results.hpp>

#include "cli/advice.hpp"
#include "cli/command.hpp"
#include "cli/table.hpp"
#include "course/advice.hpp"
#include "results/course_json.hpp"
#include "results/results.hpp"
#include "scan/file.hpp"

namespace inkwane::cli {
namespace {

using results::Course;
using results::Estimate;

struct Options {
  std::filesystem::path treatment, assessment;
  bool json = false;
};

/// Throws Error(usage) unless `results` were made from this treatment file and these scans as they
/// are now.
void check_current(const Treatment& treatment, const std::filesystem::path& file,
                   const results::Results& results) {
  const auto refuse = [&file](const std::string& what) {
    throw Error(ExitCode::usage,
                fmt::format("{}: {}; run `inkwane assess` on it again.", file.string(), what));
  };
  if (scan::InputFile(treatment.file).sha256() != results.treatment_sha256) {
    refuse(fmt::format("was not made from {} as it is now", treatment.file.filename().string()));
  }
  const auto assessed = std::filesystem::last_write_time(file);
  for (const results::Scan& scan : results.scans) {
    for (const Stage& stage : treatment.stages) {
      const auto path = stage.scans.find(scan.side);
      if (stage.id != scan.stage || path == stage.scans.end()) continue;
      std::error_code none;
      const auto written = std::filesystem::last_write_time(path->second, none);
      // The archive of a treatment may be elsewhere; a scan that is here must be the same.
      if (none || written <= assessed) continue;
      if (scan::InputFile(path->second).sha256() != scan.sha256)
        refuse(fmt::format("is older than the scan {}", path->second.filename().string()));
    }
  }
}

std::string share(const std::optional<Estimate>& estimate) {
  return estimate ? course::percent(*estimate) : "–";
}

std::string plain(const std::optional<double>& value) {
  return value ? fmt::format("{:.4g}", *value) : "–";
}

std::string curve(const Course& course) {
  const bool lit = std::any_of(course.points.begin(), course.points.end(),
                               [](const auto& point) { return point.dose_j_per_cm2.has_value(); });
  std::vector<std::string> head{"stage", "minutes"};
  if (lit) head.emplace_back("J/cm²");
  head.insert(head.end(), {"added colour gone (95 %)", "ink lost (95 %)", ""});
  Table table(head);
  for (const results::CoursePoint& point : course.points) {
    std::vector<std::string> row{point.stage, plain(point.minutes)};
    if (lit) row.push_back(plain(point.dose_j_per_cm2));
    row.insert(row.end(), {share(point.removed), share(point.lost),
                           point.counts             ? ""
                           : point.warnings.empty() ? "follow-up"
                                                    : "DAMP OR WET: not counted"});
    table.add(row);
  }
  return table.text();
}

std::string unit_of(const std::string& against) {
  if (against == "minutes") return "min";
  return against == "dose_j_per_cm2" ? "J/cm²" : "stage";
}

std::string decays(const Course& course) {
  Table table({"added colour", "rate (95 %)", "will stay (95 %)", ""});
  for (const results::Decay& decay : course.decays) {
    if (decay.role != Role::added) continue;  // of inks too little goes to tell a rate at the tray
    const auto rate = [&decay](const Estimate& e) {
      return fmt::format("{:.3g} ({:.2g} to {:.2g}) per {}", e.value, e.ci95[0], e.ci95[1],
                         unit_of(decay.against));
    };
    table.add({decay.region, decay.rate ? rate(*decay.rate) : "–", share(decay.floor),
               decay.rate ? "" : "not told"});
  }
  return table.text();
}

void print(const results::Results& results) {
  const Course& course = *results.course;
  fmt::print(
      "{}\n{}\n", results.object.title,
      results.calibrated ? "" : "UNCALIBRATED: no number below is tied to a colour target.\n");
  if (course.advice) {
    fmt::print("  {}\n", course.advice->verdict == "go on"  ? "GO ON – advice only"
                         : course.advice->verdict == "stop" ? "STOP – advice only"
                                                            : "CANNOT TELL");
    print_line("why", course.advice->reason);
  }
  fmt::print("\n{}\n", curve(course));
  if (const auto& step = course.last_step) {
    print_line(fmt::format("last step, {} → {}", step->from, step->to),
               fmt::format("took {}, cost {} of the ink", share(step->removed), share(step->lost)));
  }
  if (const auto& next = course.forecast) {
    if (next->step_removed || next->step_lost) {
      print_line(
          "one more like it",
          fmt::format("would take {}, cost {} of the ink; in all {} gone, {} of the ink lost",
                      share(next->step_removed), share(next->step_lost), share(next->removed),
                      share(next->lost)));
    }
    print_line("", next->note);
  }
  if (!course.decays.empty()) fmt::print("\n{}", decays(course));
  std::vector<std::string> warnings = course.warnings;
  warnings.insert(warnings.end(), results.warnings.begin(), results.warnings.end());
  print_list("Warnings", warnings);
  print_list("Cautions", course.cautions);
  if (course.advice) print_list("What the advice goes by", course.advice->thresholds);
}

nlohmann::ordered_json as_json(const results::Results& results) {
  auto out = start_json("plan");
  out["title"] = results.object.title;
  out["calibrated"] = results.calibrated;
  out["course"] = results::course_to_json(results.course);
  out["warnings"] = results.warnings;
  out["doubtful"] = results.doubtful;
  return out;
}

ExitCode plan(const Options& options, bool quiet) {
  const Treatment treatment = read_treatment(options.treatment);
  const auto folder = options.assessment.empty() ? options.treatment.parent_path() / "assessment"
                                                 : options.assessment;
  const auto file = folder / "results.json";
  if (!std::filesystem::exists(file)) {
    throw Error(ExitCode::usage, fmt::format("{}: there is no assessment here; run `inkwane assess "
                                             "{}` first, or name its folder with -o.",
                                             folder.string(), options.treatment.string()));
  }
  const results::Results results = results::read_results(file);
  check_current(treatment, file, results);
  if (!results.course) {
    throw Error(ExitCode::usage,
                fmt::format("{}: has one stage only, so there is no step to judge; add a stage and "
                            "assess again.",
                            options.treatment.string()));
  }
  if (options.json) {
    fmt::print("{}\n", as_json(results).dump(1, ' ', false,
                                             nlohmann::ordered_json::error_handler_t::replace));
  } else if (!quiet) {
    print(results);
  }
  return results.doubtful ? ExitCode::doubtful : ExitCode::done;
}

}  // namespace

void add_plan(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command =
      app.add_subcommand("plan", "At the tray: what the last step took and cost, and one more");
  const auto options = std::make_shared<Options>();
  command->add_option("TREATMENT", options->treatment, "The treatment file")->required();
  command->add_option("-o,--assessment", options->assessment,
                      "Folder that assess wrote [assessment, beside the treatment file]");
  command->add_flag("--json", options->json, "Print JSON (docs/formats.md)");
  command->footer(
      "Example:\n  inkwane assess sheet-12/treatment.toml && inkwane plan "
      "sheet-12/treatment.toml\n\n" +
      exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] { return plan(*options, common.quiet); };
  });
}

}  // namespace inkwane::cli
