#include "tests/support.hpp"

#include <atomic>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

namespace inkwane::test {
namespace {

namespace fs = std::filesystem;

std::string contents(const fs::path& file) {
  std::ostringstream text;
  text << std::ifstream(file, std::ios::binary).rdbuf();
  return text.str();
}

void redirect(const fs::path& file, int descriptor) {
  const int opened = open(file.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
  if (opened < 0 || dup2(opened, descriptor) < 0) _exit(127);
}

}  // namespace

TemporaryFolder::TemporaryFolder() {
  static std::atomic<int> count = 0;
  path_ = fs::temp_directory_path() /
          ("inkwane-test-" + std::to_string(getpid()) + "-" + std::to_string(count++));
  fs::create_directories(path_);
}

TemporaryFolder::~TemporaryFolder() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

Outcome run(const fs::path& program, const std::vector<std::string>& arguments,
            long largest_file_kb) {
  const TemporaryFolder folder;
  std::vector<char*> argv{const_cast<char*>(program.c_str())};
  for (const std::string& argument : arguments) argv.push_back(const_cast<char*>(argument.c_str()));
  argv.push_back(nullptr);
  const pid_t child = fork();
  if (child < 0) throw std::runtime_error("fork failed");
  if (child == 0) {
    redirect(folder / "out", STDOUT_FILENO);
    redirect(folder / "err", STDERR_FILENO);
    if (largest_file_kb >= 0) {
      // An ignored SIGXFSZ turns the limit into a failing write.
      signal(SIGXFSZ, SIG_IGN);
      const auto bytes = static_cast<rlim_t>(largest_file_kb) * 1024;
      const rlimit limit{bytes, bytes};
      if (setrlimit(RLIMIT_FSIZE, &limit) != 0) _exit(127);
    }
    execv(program.c_str(), argv.data());
    _exit(127);
  }
  int status = 0;
  waitpid(child, &status, 0);
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status), contents(folder / "out"),
          contents(folder / "err")};
}

}  // namespace inkwane::test
