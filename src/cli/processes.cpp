#include "cli/processes.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <map>

#include <fmt/format.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

namespace inkwane::cli {
namespace {

// Below what a pipe holds (pipe(7): 64 KiB, 4 KiB at the least), so that a child never waits to be
// read.
constexpr std::size_t kLongestSentence = 4096;

struct Child {
  std::size_t item;
  int pipe;  ///< the end that its sentence is read from
};

[[noreturn]] void be_child(const Run& work, int pipe, pid_t parent) {
  // Ends with the parent, however that ends.
  if (prctl(PR_SET_PDEATHSIG, SIGTERM) != 0 || getppid() != parent) _exit(4);
  const Ended ended = guarded(work);
  const std::size_t size = std::min(ended.sentence.size(), kLongestSentence);
  const bool told = write(pipe, ended.sentence.data(), size) == static_cast<ssize_t>(size);
  _exit(static_cast<int>(told ? ended.code : ExitCode::output));
}

/// The child's process id, or −1 with errno.
pid_t start(const Run& work, int& pipe_end) {
  std::array<int, 2> ends{};
  if (pipe(ends.data()) != 0) return -1;
  std::fflush(nullptr);  // or the child would hold a copy of what waits to be printed
  const pid_t parent = getpid();
  const pid_t child = fork();
  if (child == 0) {
    close(ends[0]);
    be_child(work, ends[1], parent);
  }
  close(ends[1]);
  if (child < 0) {
    const int why = errno;
    close(ends[0]);
    errno = why;
    return -1;
  }
  pipe_end = ends[0];
  return child;
}

std::string read_all(int pipe) {
  std::string text(kLongestSentence, '\0');
  std::size_t done = 0;
  while (done < text.size()) {
    const ssize_t got = read(pipe, text.data() + done, text.size() - done);
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) break;
    done += static_cast<std::size_t>(got);
  }
  text.resize(done);
  return text;
}

Ended how_ended(int status, int pipe) {
  if (WIFSIGNALED(status)) {
    return {ExitCode::output,
            fmt::format("was ended by the system ({}); where memory ran out, give fewer --jobs.",
                        strsignal(WTERMSIG(status)))};
  }
  return {static_cast<ExitCode>(WEXITSTATUS(status)), read_all(pipe)};
}

}  // namespace

void run_apart(std::size_t count, int jobs, const std::function<ExitCode(std::size_t)>& work,
               const std::function<void(std::size_t, const Ended&)>& ended) {
  std::map<pid_t, Child> running;
  std::size_t next = 0;
  while (next < count || !running.empty()) {
    const bool full = running.size() >= static_cast<std::size_t>(jobs);
    if (next < count && !full) {
      Child child{next, -1};
      const pid_t pid = start([&work, next] { return work(next); }, child.pipe);
      if (pid > 0) {
        running[pid] = child;
        ++next;
        continue;
      }
      if (running.empty()) {
        throw Error(ExitCode::output, fmt::format("no process could be started ({}); close other "
                                                  "programs.",
                                                  std::strerror(errno)));
      }
    }
    int status = 0;
    const pid_t pid = waitpid(-1, &status, 0);
    const auto found = running.find(pid);
    if (found == running.end()) continue;
    const Child child = found->second;
    running.erase(found);
    const Ended how = how_ended(status, child.pipe);
    close(child.pipe);
    ended(child.item, how);
  }
}

}  // namespace inkwane::cli
