#include "vet/vet.hpp"

#include <algorithm>
#include <cstdio>
#include <memory>
#include <optional>

#include <fmt/format.h>

#include "cli/command.hpp"

namespace inkwane::cli {
namespace {

using vet::Finding;
using vet::Verdict;

struct Options {
  std::vector<std::filesystem::path> scans;
  TargetCard target;
};

const char* word(Verdict verdict) {
  switch (verdict) {
    case Verdict::good:
      return "good";
    case Verdict::note:
      return "note";
    case Verdict::doubtful:
      return "doubtful";
    case Verdict::unusable:
      return "unusable";
  }
  return "";
}

const char* summary(Verdict worst) {
  switch (worst) {
    case Verdict::good:
    case Verdict::note:
      return "fit to measure";
    case Verdict::doubtful:
      return "numbers from it will be doubtful";
    case Verdict::unusable:
      return "not fit to measure";
  }
  return "";
}

ExitCode code_of(Verdict worst) {
  switch (worst) {
    case Verdict::good:
    case Verdict::note:
      return ExitCode::done;
    case Verdict::doubtful:
      return ExitCode::doubtful;
    case Verdict::unusable:
      return ExitCode::scan;
  }
  return ExitCode::done;
}

void print(const std::filesystem::path& file, const std::vector<Finding>& findings, Verdict worst) {
  fmt::print("{}: {}\n", file.string(), summary(worst));
  for (const Finding& finding : findings) {
    if (finding.verdict == Verdict::unusable) continue;  // printed as the error that it is
    fmt::print("  {:<9} {}", word(finding.verdict), finding.what);
    if (!finding.advice.empty()) fmt::print("; {}", finding.advice);
    fmt::print("\n");
  }
}

ExitCode vet_all(const Options& options, bool quiet) {
  std::optional<target::Reference> reference;
  if (!options.target.reference.empty()) {
    reference = target::read_reference(options.target.reference, options.target.rows,
                                       options.target.columns);
  }
  ExitCode highest = ExitCode::done;
  for (const auto& file : options.scans) {
    const auto findings = vet::vet_scan(file, reference ? &*reference : nullptr);
    Verdict worst = Verdict::good;
    for (const Finding& finding : findings) {
      worst = std::max(worst, finding.verdict);
    }
    if (!quiet) print(file, findings, worst);
    std::fflush(stdout);
    for (const Finding& finding : findings) {
      if (finding.verdict == Verdict::unusable) fmt::print(stderr, "inkwane: {}\n", finding.what);
    }
    highest = std::max(highest, code_of(worst));
  }
  return highest;
}

}  // namespace

void add_vet(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command =
      app.add_subcommand("vet", "Say whether scans are fit to measure, and what to do");
  const auto options = std::make_shared<Options>();
  command->add_option("SCAN", options->scans, "The scans")->required();
  add_target_options(*command, options->target, "every scan");
  command->footer("Example:\n  inkwane vet bt-recto.tif bt-verso.tif --target target.txt\n\n" +
                  exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] { return vet_all(*options, common.quiet); };
  });
}

}  // namespace inkwane::cli
