#include <memory>

#include <fmt/format.h>

#include "cli/command.hpp"
#include "simulate/simulate.hpp"

namespace inkwane::cli {
namespace {

ExitCode write_demo(const std::filesystem::path& folder, bool quiet) {
  std::error_code code;
  if (std::filesystem::exists(folder, code) && !std::filesystem::is_empty(folder, code)) {
    throw Error(
        ExitCode::usage,
        fmt::format("{}: is there already and not empty; name another folder.", folder.string()));
  }
  try {
    std::filesystem::create_directories(folder);
    (void)simulate::write_scene(simulate::demo_scene(), folder);
  } catch (const std::runtime_error& error) {
    throw Error(ExitCode::output,
                fmt::format("{}: the demo cannot be written ({}).", folder.string(), error.what()));
  }
  if (!quiet) {
    fmt::print(
        "Wrote the demo treatment (an invented sheet, simulated scans). Now run:\n"
        "  inkwane assess {}\n",
        (folder / "treatment.toml").string());
  }
  return ExitCode::done;
}

}  // namespace

void add_demo(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command = app.add_subcommand(
      "demo", "Write the demo treatment: an invented sheet before, during and after");
  const auto folder = std::make_shared<std::filesystem::path>();
  command->add_option("DIR", *folder, "The folder to write; must be new or empty")->required();
  command->footer("Example:\n  inkwane demo demo && inkwane assess demo/treatment.toml\n\n" +
                  exit_codes());
  command->callback([folder, &common, &run] {
    run = [folder, &common] { return write_demo(*folder, common.quiet); };
  });
}

}  // namespace inkwane::cli
