#include <algorithm>
#include <memory>
#include <thread>

#include <fmt/format.h>

#include <inkwane/assess.hpp>

#include "cli/collection.hpp"
#include "cli/command.hpp"
#include "cli/processes.hpp"
#include "cli/progress.hpp"
#include "cli/run_assess.hpp"

namespace inkwane::cli {
namespace {

namespace fs = std::filesystem;

struct Options {
  std::vector<fs::path> treatments;
  fs::path output, csv;
  int jobs = 1;
};

/// Threads of each of `jobs` processes.
int share_of_threads(const Common& common, int jobs) {
  const int all = common.threads > 0
                      ? common.threads
                      : std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
  return std::max(1, all / jobs);
}

/// Most sentences begin with the file; the others would not say which treatment they are about.
void tell(const std::string& treatment, const std::string& sentence) {
  const bool named = sentence.find(treatment) != std::string::npos;
  fmt::print(stderr, "inkwane: {}{}{}\n", named ? "" : treatment, named ? "" : ": ", sentence);
}

ExitCode assess_many(const Options& options, const Common& common) {
  const auto& treatments = options.treatments;
  const std::vector<fs::path> folders = places(treatments, options.output);
  Collection collection(options.csv.empty() ? options.output / "collection.csv" : options.csv,
                        treatments.size());
  Progress progress(common.quiet);
  std::size_t done = 0;
  const auto show = [&] {
    progress.show(fmt::format("{} of {} treatments", done, treatments.size()),
                  static_cast<double>(done) / static_cast<double>(treatments.size()));
  };
  show();
  const int threads = share_of_threads(common, options.jobs);
  run_apart(
      treatments.size(), options.jobs,
      [&](std::size_t i) {
        AssessOptions how;
        how.output = folders[i];
        how.threads = threads;
        return assess(read_treatment(treatments[i]), how).doubtful ? ExitCode::doubtful
                                                                   : ExitCode::done;
      },
      [&](std::size_t i, const Ended& ended) {
        progress.clear();
        const Ended added = collection.add(i, treatments[i], folders[i], ended);
        if (!added.sentence.empty()) tell(treatments[i].string(), added.sentence);
        ++done;
        show();
      });
  progress.clear();
  collection.commit();
  if (!common.quiet) fmt::print("{}", collection.table());
  return collection.code();
}

}  // namespace

void add_assess(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command = app.add_subcommand("assess", "Measure treatments: results, maps, report");
  const auto options = std::make_shared<Options>();
  command->add_option("TREATMENT", options->treatments, "The treatment file, or several")
      ->required();
  command->add_option("-o,--output", options->output,
                      "Folder to write; an earlier assessment there is replaced; with several "
                      "treatments, a folder that gets one for each "
                      "[assessment, beside the treatment file]");
  command->add_option("-j,--jobs", options->jobs, "How many treatments to measure at a time")
      ->check(CLI::Range(1, 256))
      ->capture_default_str();
  command->add_option("--csv", options->csv,
                      "With several treatments: the table of all their regions "
                      "[collection.csv, in the output folder or here]");
  command->footer(
      "Examples:\n  inkwane assess sheet-12/treatment.toml\n"
      "  inkwane assess sheets/*/treatment.toml --jobs 4 -o assessments\n\n" +
      exit_codes() + "\nOf several treatments: the highest of any.");
  command->callback([options, &common, &run] {
    run = [options, &common] {
      if (options->treatments.size() > 1 || !options->csv.empty()) {
        return assess_many(*options, common);
      }
      const fs::path& treatment = options->treatments.front();
      const auto folder = places(options->treatments, options->output).front();
      return run_assess(read_treatment(treatment), folder, common);
    };
  });
}

}  // namespace inkwane::cli
