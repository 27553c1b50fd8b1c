#include <cstdio>

#include <fmt/format.h>

#include "cli/command.hpp"
#include "cli/describe.hpp"
#include "cli/outcome.hpp"

namespace inkwane::cli {

std::string exit_codes() {
  return "Exit codes: 0 done, there may be warnings; 1 done, but numbers are doubtful; 2 the "
         "command\n"
         "line or the treatment file is wrong; 3 a scan or reference file is missing, unreadable,\n"
         "unsuitable or not what it should be; 4 the output could not be written, or memory ran "
         "out.";
}

}  // namespace inkwane::cli

int main(int argc, char** argv) {
  using inkwane::ExitCode;
  namespace cli = inkwane::cli;

  CLI::App app{
      "Measures, from scans, what each step of removing added colour from a printed sheet cost "
      "and gained.\nIt informs a conservator's judgement; it never says that a treatment is "
      "safe.",
      "inkwane"};
  app.set_version_flag("--version", "inkwane " INKWANE_VERSION);
  app.require_subcommand(1);
  app.fallthrough();
  app.footer("Example:\n  inkwane new sheet && inkwane assess sheet/treatment.toml\n\n" +
             cli::exit_codes());
  cli::Common common;
  app.add_flag("-q,--quiet", common.quiet, "Print nothing but errors");
  app.add_option("--threads", common.threads, "Threads to use; the results do not depend on it")
      ->check(CLI::Range(1, 256));

  cli::Run run;
  for (const auto add :
       {cli::add_new, cli::add_vet, cli::add_desk, cli::add_regions, cli::add_assess,
        cli::add_gather, cli::add_plan, cli::add_compare, cli::add_report, cli::add_card,
        cli::add_scanner, cli::add_demo, cli::add_bath, cli::add_light, cli::add_describe}) {
    add(app, common, run);
  }
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    // CLI11 prints help and version on exit code 0; all else is a wrong command line.
    return app.exit(error) == 0 ? 0 : static_cast<int>(ExitCode::usage);
  }
  const cli::Ended ended = cli::guarded(run);
  if (!ended.sentence.empty()) fmt::print(stderr, "inkwane: {}\n", ended.sentence);
  return static_cast<int>(ended.code);
}
