#include <cstdio>
#include <new>

#include <fmt/format.h>

#include "cli/command.hpp"

namespace inkwane::cli {

std::string exit_codes() {
  return "Exit codes: 0 done, there may be warnings; 1 done, but numbers are doubtful; 2 the "
         "command\n"
         "line or the treatment file is wrong; 3 a scan or reference file is missing, unreadable,\n"
         "unsuitable or not what it should be; 4 the output could not be written, or memory ran "
         "out.";
}

}  // namespace inkwane::cli

namespace {

int tell(const std::string& sentence, inkwane::ExitCode code) {
  fmt::print(stderr, "inkwane: {}\n", sentence);
  return static_cast<int>(code);
}

}  // namespace

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
       {cli::add_new, cli::add_vet, cli::add_desk, cli::add_regions, cli::add_assess, cli::add_plan,
        cli::add_compare, cli::add_report, cli::add_card, cli::add_scanner, cli::add_demo,
        cli::add_bath, cli::add_light}) {
    add(app, common, run);
  }
  try {
    app.parse(argc, argv);
    return static_cast<int>(run());
  } catch (const CLI::ParseError& error) {
    // CLI11 prints help and version on exit code 0; all else is a wrong command line.
    return app.exit(error) == 0 ? 0 : static_cast<int>(ExitCode::usage);
  } catch (const inkwane::Error& error) {
    return tell(error.what(), error.code());
  } catch (const std::bad_alloc&) {
    return tell("memory ran out; close other programs or set a coarser [measure] grid_mm.",
                ExitCode::output);
  } catch (const std::exception& error) {
    return tell(fmt::format("stopped at something it did not expect ({}); please report this.",
                            error.what()),
                ExitCode::output);
  }
}
