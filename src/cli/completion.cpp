#include <algorithm>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "cli/describe.hpp"

namespace inkwane::cli {
namespace {

using Commands = std::vector<const CLI::App*>;

/// In single quotes of a shell.
std::string shell_quoted(const std::string& text) {
  return "'" + CLI::detail::find_and_replace(text, "'", "'\\''") + "'";
}

std::vector<std::string> option_names(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::Option* option : options_of(app)) {
    for (const std::string& name : names_of(*option)) names.push_back(name);
  }
  return names;
}

/// Calls `one` with each command and its place: "", "/assess", "/regions/export".
template <typename One>
void walk(const CLI::App& app, const std::string& place, const One& one) {
  one(app, place);
  for (const CLI::App* command : commands_of(app)) {
    walk(*command, place + "/" + command->get_name(), one);
  }
}

/// Brackets, colons and backslashes are _arguments' own (zshcompsys(1)).
std::string for_zsh(const std::string& text) {
  std::string out;
  for (const char c : text.substr(0, text.find('\n'))) {
    if (c == '[' || c == ']' || c == ':' || c == '\\') out += '\\';
    out += c;
  }
  return out;
}

std::string zsh_value(const CLI::Option& option, const std::string& name) {
  const auto choices = choices_of(option);
  return choices.empty() ? fmt::format(":{}:_files", name)
                         : fmt::format(":{}:({})", name, fmt::join(choices, " "));
}

std::string zsh_argument(const CLI::Option& option) {
  if (option.get_positional()) {
    const bool several = option.get_items_expected_max() > 1;
    return shell_quoted((several ? "*" : "") + zsh_value(option, for_zsh(option.get_name(true))));
  }
  const auto names = names_of(option);
  std::string value = fmt::format("[{}]", for_zsh(option.get_description()));
  if (takes_value(option)) value += zsh_value(option, "value");
  if (names.size() == 1) return shell_quoted(names.front() + value);
  return fmt::format("'({})'{{{}}}{}", fmt::join(names, " "), fmt::join(names, ","),
                     shell_quoted(value));
}

std::string zsh_function(std::string place) {
  std::replace(place.begin(), place.end(), '/', '_');
  return "_inkwane" + place;
}

std::string zsh_of(const CLI::App& app, const CLI::App& program, const std::string& place) {
  std::vector<std::string> arguments;
  for (const CLI::Option* option : options_of(app)) arguments.push_back(zsh_argument(*option));
  if (&app != &program) {
    for (const CLI::Option* option : options_of(program)) {
      if (option != program.get_help_ptr() && option != program.get_version_ptr())
        arguments.push_back(zsh_argument(*option));
    }
  }
  const Commands commands = commands_of(app);
  std::string text = zsh_function(place) + "() {\n";
  if (commands.empty()) {
    return text + fmt::format("  _arguments {}\n}}\n\n", fmt::join(arguments, " \\\n    "));
  }
  text += "  local state\n  local -a commands=(\n";
  for (const CLI::App* command : commands) {
    text += fmt::format(
        "    {}\n", shell_quoted(command->get_name() + ":" + for_zsh(command->get_description())));
  }
  text += fmt::format(
      "  )\n  _arguments -C {} \\\n    '1:command:->command' '*::argument:->argument'\n",
      fmt::join(arguments, " \\\n    "));
  text +=
      "  case $state in\n    command) _describe command commands ;;\n    argument)\n"
      "      case $words[1] in\n";
  for (const CLI::App* command : commands) {
    text += fmt::format("        {}) {} ;;\n", command->get_name(),
                        zsh_function(place + "/" + command->get_name()));
  }
  return text + "      esac ;;\n  esac\n}\n\n";
}

}  // namespace

std::string bash_completion(const CLI::App& program) {
  std::string places, words, choices;
  walk(program, "", [&](const CLI::App& app, const std::string& place) {
    std::vector<std::string> here = option_names(app);
    if (&app != &program) {
      const auto common = option_names(program);
      here.insert(here.end(), common.begin(), common.end());
      places += (places.empty() ? "" : " | ") + place;
    }
    std::vector<std::string> names;
    for (const CLI::App* command : commands_of(app)) names.push_back(command->get_name());
    words += fmt::format("    {}) options={} commands={} ;;\n", shell_quoted(place),
                         shell_quoted(fmt::format("{}", fmt::join(here, " "))),
                         shell_quoted(fmt::format("{}", fmt::join(names, " "))));
    for (const CLI::Option* option : options_of(app)) {
      const auto values = choices_of(*option);
      for (const std::string& name : names_of(*option)) {
        if (values.empty()) continue;
        choices += fmt::format("    {}) values={} ;;\n", shell_quoted(place + " " + name),
                               shell_quoted(fmt::format("{}", fmt::join(values, " "))));
      }
    }
  });
  return fmt::format(
      R"(# Completion of inkwane for bash, made from its own description of its commands.
_inkwane() {{
  local word=${{COMP_WORDS[COMP_CWORD]}} place= options= commands= values= i
  for ((i = 1; i < COMP_CWORD; i++)); do
    case "$place/${{COMP_WORDS[i]}}" in
      {}) place+="/${{COMP_WORDS[i]}}" ;;
    esac
  done
  case "$place" in
{}  esac
  case "$place ${{COMP_WORDS[COMP_CWORD - 1]}}" in
{}  esac
  COMPREPLY=()
  if [[ -n $values ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$values" -- "$word")
  elif [[ $word == -* ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$options" -- "$word")
  elif [[ -n $commands ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$commands" -- "$word")
  fi
}}
complete -o default -F _inkwane inkwane
)",
      places, words, choices);
}

std::string zsh_completion(const CLI::App& program) {
  std::string text =
      "#compdef inkwane\n# Made from the program's own description of its commands.\n\n";
  walk(program, "",
       [&](const CLI::App& app, const std::string& place) { text += zsh_of(app, program, place); });
  return text + "_inkwane \"$@\"\n";
}

}  // namespace inkwane::cli
