#include "cli/describe.hpp"

#include <algorithm>
#include <memory>

#include "results/output_folder.hpp"

namespace inkwane::cli {
namespace {

namespace fs = std::filesystem;

void write_pages(const CLI::App& app, const std::vector<const CLI::App*>& above,
                 const fs::path& folder) {
  std::string name;
  for (const CLI::App* one : above) name += one->get_name() + "-";
  results::write_text(folder / (name + app.get_name() + ".1"), man_page(app, above));
  std::vector<const CLI::App*> next = above;
  next.push_back(&app);
  for (const CLI::App* command : commands_of(app)) write_pages(*command, next, folder);
}

ExitCode describe(const CLI::App& program, const fs::path& folder) {
  std::error_code code;
  fs::create_directories(folder / "man", code);
  write_pages(program, {}, folder / "man");
  results::write_text(folder / "inkwane.bash", bash_completion(program));
  results::write_text(folder / "_inkwane", zsh_completion(program));
  return ExitCode::done;
}

}  // namespace

std::vector<const CLI::App*> commands_of(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App* one) { return !one->get_group().empty(); });
}

std::vector<const CLI::Option*> options_of(const CLI::App& app) {
  return app.get_options([](const CLI::Option* one) { return !one->get_group().empty(); });
}

std::vector<std::string> choices_of(const CLI::Option& option) {
  // CLI11 writes the list of CLI::IsMember behind the type: "TEXT:{wet,dry}".
  const std::string type = option.get_type_name();
  const auto open = type.find('{'), close = type.find('}');
  if (open == std::string::npos || close == std::string::npos) return {};
  return CLI::detail::split(type.substr(open + 1, close - open - 1), ',');
}

bool takes_value(const CLI::Option& option) {
  return option.get_items_expected_max() > 0;
}

std::vector<std::string> names_of(const CLI::Option& option) {
  std::vector<std::string> names;
  for (const std::string& name : option.get_snames()) names.push_back("-" + name);
  for (const std::string& name : option.get_lnames()) names.push_back("--" + name);
  return names;
}

void add_describe(CLI::App& app, const Common&, Run& run) {
  CLI::App* command = app.add_subcommand("describe", "Write man pages and shell completions");
  command->group("");
  const auto folder = std::make_shared<fs::path>();
  command->add_option("DIR", *folder, "Folder to write")->required();
  command->callback(
      [&app, folder, &run] { run = [&app, folder] { return describe(app, *folder); }; });
}

}  // namespace inkwane::cli
