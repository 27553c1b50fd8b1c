#include <csignal>
#include <memory>

#include <fcntl.h>
#include <fmt/format.h>
#include <spawn.h>
#include <unistd.h>

#include "cli/command.hpp"
#include "desk/server.hpp"

extern char** environ;

namespace inkwane::cli {
namespace {

/// Hands the address to whatever opens pages on this machine; true where it could be started.
bool open_in_browser(const std::string& address) {
  std::string program = "xdg-open", argument = address;
  char* arguments[] = {program.data(), argument.data(), nullptr};
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
  posix_spawnattr_t attributes;
  posix_spawnattr_init(&attributes);
  sigset_t none;
  sigemptyset(&none);  // the desk holds Ctrl-C back; the browser must not
  posix_spawnattr_setsigmask(&attributes, &none);
  posix_spawnattr_setpgroup(&attributes, 0);  // nor stop when the desk does
  posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETPGROUP);
  pid_t child = 0;
  const int failed =
      posix_spawnp(&child, program.c_str(), &actions, &attributes, arguments, environ);
  posix_spawn_file_actions_destroy(&actions);
  posix_spawnattr_destroy(&attributes);
  return failed == 0;
}

}  // namespace

void add_desk(CLI::App& app, const Common& common, Run& run) {
  struct Options {
    std::filesystem::path treatment;
    int port = 0;
    bool no_open = false;
  };
  CLI::App* command = app.add_subcommand(
      "desk", "Draw regions and correct what was found, on a page in the browser");
  const auto options = std::make_shared<Options>();
  command->add_option("TREATMENT", options->treatment, "The treatment file")->required();
  command->add_option("--port", options->port, "Port on this machine [any that is free]")
      ->check(CLI::Range(1024, 65535));
  command->add_flag("--no-open", options->no_open, "Print the page's address, open no browser");
  command->footer(
      "The page is served to this machine alone, until Ctrl-C; whoever has its address can change "
      "the\ntreatment file, so keep it to yourself.\n\nExample:\n  inkwane desk "
      "sheet-12/treatment.toml\n\n" +
      exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] {
      desk::ServeOptions serve;
      serve.port = options->port;
      serve.threads = common.threads;
      serve.ready = [options, &common](const std::string& address) {
        const bool opened = !options->no_open && open_in_browser(address);
        // Without the address nobody can come in, so it is printed even when quiet.
        if (!common.quiet || !opened) {
          fmt::print("The desk is open at {}\nCtrl-C closes it.\n", address);
          (void)std::fflush(stdout);
        }
      };
      desk::serve(options->treatment, serve);
      return ExitCode::done;
    };
  });
}

}  // namespace inkwane::cli
