// The table of assessments that were made one by one, as a scheduler makes them.
#include <memory>

#include <fmt/format.h>

#include "cli/collection.hpp"
#include "cli/command.hpp"

namespace inkwane::cli {
namespace {

namespace fs = std::filesystem;

ExitCode gather(const std::vector<fs::path>& folders, const fs::path& csv, bool quiet) {
  Collection collection(csv, folders.size());
  for (std::size_t i = 0; i < folders.size(); ++i) {
    const Ended ended = collection.add(i, {}, folders[i], {});
    if (!ended.sentence.empty()) fmt::print(stderr, "inkwane: {}\n", ended.sentence);
  }
  collection.commit();
  if (!quiet) fmt::print("{}", collection.table());
  return collection.code();
}

}  // namespace

void add_gather(CLI::App& app, const Common& common, Run& run) {
  struct Options {
    std::vector<fs::path> folders;
    fs::path csv = "collection.csv";
  };
  CLI::App* command = app.add_subcommand("gather", "One table of the regions of many assessments");
  const auto options = std::make_shared<Options>();
  command->add_option("DIR", options->folders, "Folders that assess wrote")->required();
  command->add_option("--csv", options->csv, "The table to write")->capture_default_str();
  command->footer("Example:\n  inkwane gather sheets/*/assessment --csv all.csv\n\n" +
                  exit_codes() + "\nOf several assessments: the highest of any.");
  command->callback([options, &common, &run] {
    run = [options, &common] { return gather(options->folders, options->csv, common.quiet); };
  });
}

}  // namespace inkwane::cli
