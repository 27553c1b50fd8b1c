#include "scanner/scanner.hpp"

#include <memory>

#include <fmt/format.h>

#include "cli/command.hpp"
#include "results/output_folder.hpp"

namespace inkwane::cli {
namespace {

struct Options {
  std::filesystem::path scan, output = "scanner.toml";
  bool force = false;
};

void print(const scanner::Scanner& found) {
  const auto& stray = found.stray_light;
  const auto& spread = found.point_spread;
  fmt::print(
      "stray light   strength {:.3f} ± {:.3f}, reach {:.1f} ± {:.1f} mm\n"
      "point spread  {:.3f} ± {:.3f} mm along rows, {:.3f} ± {:.3f} mm along columns\n"
      "noise         {:.4f} of linear light at white, {:.4f} at black (green)\n",
      stray.value.kappa, stray.u_kappa, stray.value.length_mm, stray.u_length_mm, spread.x_mm,
      spread.u_x_mm, spread.y_mm, spread.u_y_mm,
      std::hypot(found.noise.floor[1], found.noise.slope[1]), found.noise.floor[1]);
}

ExitCode measure(const Options& options, bool quiet) {
  refuse_to_overwrite(options.output, options.force);
  const scanner::Scanner found = scanner::measure_card(scan::Scan::open(options.scan));
  results::write_text(options.output, scanner::to_toml(found));
  if (!quiet) {
    print(found);
    for (const std::string& warning : found.warnings) fmt::print("  note: {}\n", warning);
    fmt::print("Wrote {}\n", options.output.string());
  }
  return found.doubtful ? ExitCode::doubtful : ExitCode::done;
}

}  // namespace

void add_scanner(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command =
      app.add_subcommand("scanner", "Measure a scanner's stray light, point spread and noise");
  const auto options = std::make_shared<Options>();
  command->add_option("SCAN", options->scan, "A scan of the card that `inkwane card` writes")
      ->required();
  command->add_option("-o,--output", options->output, "The file to write (default: scanner.toml)");
  command->add_flag("--force", options->force, "Overwrite the file if it is there");
  command->footer("Example:\n  inkwane scanner card.tif -o scanner.toml\n\n" + exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] { return measure(*options, common.quiet); };
  });
}

}  // namespace inkwane::cli
