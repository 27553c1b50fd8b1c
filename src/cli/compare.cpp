#include <memory>

#include <fmt/format.h>

#include "cli/command.hpp"
#include "cli/run_assess.hpp"

namespace inkwane::cli {
namespace {

struct Options {
  std::filesystem::path before, after, output = "comparison";
  TargetCard target;
};

Treatment make_treatment(const Options& options) {
  Treatment treatment;
  treatment.file = "compare";
  treatment.object.title = fmt::format("{} against {}", options.after.filename().string(),
                                       options.before.filename().string());
  if (!options.target.reference.empty()) treatment.target = options.target;
  Stage before, after;
  before.id = "before";
  before.scans[Side::recto] = options.before;
  after.id = "after";
  after.scans[Side::recto] = options.after;
  treatment.stages = {before, after};
  return treatment;
}

}  // namespace

void add_compare(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command = app.add_subcommand(
      "compare", "A quick look at one side, two scans, without a treatment file");
  const auto options = std::make_shared<Options>();
  command->add_option("BEFORE", options->before, "The earlier scan")->required();
  command->add_option("AFTER", options->after, "The later scan of the same side")->required();
  add_target_options(*command, options->target, "both scans");
  command->add_option("-o,--output", options->output, "Folder to write")->capture_default_str();
  command->footer("Example:\n  inkwane compare before.tif after.tif --target target.txt\n\n" +
                  exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] {
      return run_assess(make_treatment(*options), options->output, common);
    };
  });
}

}  // namespace inkwane::cli
