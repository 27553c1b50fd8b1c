#include "report/report.hpp"

#include <memory>

#include <fmt/format.h>

#include "cli/command.hpp"
#include "results/results.hpp"

namespace inkwane::cli {
namespace {

ExitCode write(const std::filesystem::path& folder, const report::Options& options,
               const std::filesystem::path& output, bool quiet) {
  const results::Results results = results::read_results(folder / "results.json");
  if (std::error_code code; !std::filesystem::is_directory(output, code))
    throw Error(ExitCode::usage, fmt::format("{}: is not a folder; name one that is there with -o.",
                                             output.string()));
  report::write_report(folder, results, options, output);
  if (!quiet)
    fmt::print("Report: {} and {}\n", (output / "report.html").string(),
               (output / "report.pdf").string());
  return results.doubtful ? ExitCode::doubtful : ExitCode::done;
}

}  // namespace

void add_report(CLI::App& app, const Common& common, Run& run) {
  struct Options {
    std::filesystem::path folder, output;
    report::Options report;
  };
  CLI::App* command = app.add_subcommand(
      "report", "Write the report of an assessment again, page and PDF, without the scans");
  const auto options = std::make_shared<Options>();
  command->add_option("DIR", options->folder, "The folder that assess wrote")->required();
  command->add_flag("--client", options->report.client,
                    "The client's copy: without paths of files and their hashes");
  command->add_option("-o,--output", options->output, "Folder to write the two files into [DIR]");
  command->footer("Example:\n  inkwane report sheet-12/assessment --client -o to-the-client\n\n" +
                  exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] {
      return write(options->folder, options->report,
                   options->output.empty() ? options->folder : options->output, common.quiet);
    };
  });
}

}  // namespace inkwane::cli
