#include <algorithm>
#include <sstream>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "cli/describe.hpp"

namespace inkwane::cli {
namespace {

/// Text that roff prints as it stands: no escapes, no requests; hyphens that can be copied into a
/// command line (groff_char(7)).
std::string escaped(const std::string& text) {
  std::string out;
  bool line_start = true;
  for (const char c : text) {
    if (line_start && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\') {
      out += "\\e";
    } else if (c == '-') {
      out += "\\-";
    } else {
      out += c;
    }
    line_start = c == '\n';
  }
  return out;
}

std::string capitals(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  return text;
}

/// What stands for an option's value.
std::string value_of(const CLI::Option& option) {
  const auto choices = choices_of(option);
  if (!choices.empty()) return fmt::format("{}", fmt::join(choices, "|"));
  const std::string type = option.get_type_name();
  return type.substr(0, type.find(':'));
}

std::string synopsis(const std::string& name, const CLI::App& app) {
  std::string text = fmt::format(".B {}\n", escaped(name));
  if (!commands_of(app).empty()) return text + "COMMAND\n[OPTIONS] ...\n";
  for (const CLI::Option* option : options_of(app)) {
    if (!option->get_positional()) continue;
    const bool several = option->get_items_expected_max() > 1;
    text += fmt::format("{}{}\n", escaped(option->get_name(true)), several ? " ..." : "");
  }
  return text + "[OPTIONS]\n";
}

std::string item(const CLI::Option& option) {
  std::string head;
  if (option.get_positional()) {
    head = fmt::format("\\fI{}\\fR", escaped(option.get_name(true)));
  } else {
    for (const std::string& name : names_of(option)) {
      head += fmt::format("{}\\fB{}\\fR", head.empty() ? "" : ", ", escaped(name));
    }
    if (takes_value(option)) head += fmt::format(" \\fI{}\\fR", escaped(value_of(option)));
  }
  std::string text = option.get_description();
  if (!option.get_default_str().empty()) text += fmt::format(" [{}]", option.get_default_str());
  return fmt::format(".TP\n{}\n{}\n", head, escaped(text));
}

std::string options_section(const std::string& title, const CLI::App& app) {
  std::string text;
  for (const CLI::Option* option : options_of(app)) text += item(*option);
  return text.empty() ? "" : fmt::format(".SH {}\n{}", title, text);
}

/// "Example:" and what follows as a section of lines as they stand; the rest as paragraphs.
std::string footer_sections(const std::string& footer) {
  std::string text;
  bool lines = false;
  std::istringstream in(footer);
  for (std::string line; std::getline(in, line);) {
    if (line == "Example:" || line == "Examples:") {
      text += ".SH EXAMPLES\n.nf\n";
      lines = true;
    } else if (line.empty()) {
      if (lines) text += ".fi\n";
      lines = false;
    } else if (line.starts_with("Exit codes: ")) {
      text += ".SH EXIT STATUS\n" + escaped(line.substr(12)) + "\n";
    } else {
      text += escaped(line) + "\n";
    }
  }
  return lines ? text + ".fi\n" : text;
}

}  // namespace

std::string man_page(const CLI::App& app, const std::vector<const CLI::App*>& above) {
  std::string spaced, hyphened;
  for (const CLI::App* one : above) {
    spaced += one->get_name() + " ";
    hyphened += one->get_name() + "-";
  }
  spaced += app.get_name();
  hyphened += app.get_name();
  const std::string about = app.get_description();
  const std::string first = about.substr(0, about.find('\n'));

  std::string text = fmt::format(".TH {} 1 \"\" \"inkwane " INKWANE_VERSION "\" \"inkwane\"\n",
                                 escaped(capitals(hyphened)));
  text += fmt::format(".SH NAME\n{} \\- {}\n", escaped(hyphened), escaped(first));
  text += ".SH SYNOPSIS\n" + synopsis(spaced, app);
  text += ".SH DESCRIPTION\n" + escaped(about) + "\n";
  const auto commands = commands_of(app);
  if (!commands.empty()) {
    text += ".SH COMMANDS\n";
    for (const CLI::App* command : commands) {
      text += fmt::format(".TP\n.BR {}\\-{} (1)\n{}\n", escaped(hyphened),
                          escaped(command->get_name()), escaped(command->get_description()));
    }
  }
  text += options_section("OPTIONS", app);
  if (!above.empty()) text += options_section("OPTIONS OF EVERY COMMAND", *above.front());
  text += footer_sections(app.get_footer());
  if (!above.empty()) {
    text += fmt::format(".SH SEE ALSO\n.BR {} (1)\n", escaped(above.front()->get_name()));
  }
  return text;
}

}  // namespace inkwane::cli
