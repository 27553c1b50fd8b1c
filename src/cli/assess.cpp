#include <memory>

#include "cli/command.hpp"
#include "cli/run_assess.hpp"

namespace inkwane::cli {

void add_assess(CLI::App& app, const Common& common, Run& run) {
  struct Options {
    std::filesystem::path treatment, output;
  };
  CLI::App* command = app.add_subcommand("assess", "Measure a treatment: results, maps, report");
  const auto options = std::make_shared<Options>();
  command->add_option("TREATMENT", options->treatment, "The treatment file")->required();
  command->add_option("-o,--output", options->output,
                      "Folder to write; an earlier assessment there is replaced "
                      "[assessment, beside the treatment file]");
  command->footer("Example:\n  inkwane assess sheet-12/treatment.toml\n\n" + exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] {
      const Treatment treatment = read_treatment(options->treatment);
      const auto output = options->output.empty() ? options->treatment.parent_path() / "assessment"
                                                  : options->output;
      return run_assess(treatment, output, common);
    };
  });
}

}  // namespace inkwane::cli
