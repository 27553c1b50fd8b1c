#include <memory>

#include <fmt/format.h>

#include "cli/command.hpp"
#include "results/output_folder.hpp"
#include "scanner/card_sheet.hpp"

namespace inkwane::cli {
namespace {

struct Options {
  std::filesystem::path output = "card.pdf";
  std::string paper = "a4";
  bool force = false;
};

ExitCode write_card(const Options& options, bool quiet) {
  refuse_to_overwrite(options.output, options.force);
  results::write_text(options.output,
                      scanner::card_pdf(options.paper == "letter" ? scanner::PaperSize::letter
                                                                  : scanner::PaperSize::a4));
  if (!quiet) {
    fmt::print(
        "Wrote {}; print it at 100 % on heavy, matt, white paper, let it dry, scan it as you scan "
        "your\nsheets, and run: inkwane scanner SCAN -o scanner.toml\n",
        options.output.string());
  }
  return ExitCode::done;
}

}  // namespace

void add_card(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command =
      app.add_subcommand("card", "Write the card, to be printed, that measures a scanner");
  const auto options = std::make_shared<Options>();
  command->add_option("-o,--output", options->output, "The PDF to write (default: card.pdf)");
  command->add_option("--paper", options->paper, "The paper to print it on: a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}));
  command->add_flag("--force", options->force, "Overwrite the file if it is there");
  command->footer("Example:\n  inkwane card -o card.pdf --paper a4\n\n" + exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] { return write_card(*options, common.quiet); };
  });
}

}  // namespace inkwane::cli
