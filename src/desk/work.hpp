// Something that takes a while, done beside the page, one at a time.
#pragma once

#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

namespace inkwane::desk {

class Work {
 public:
  /// Told what is being done and how far along it is (0 to 1). Throws where the work was cancelled.
  using Tell = std::function<void(const std::string& what, double done)>;

  struct State {
    int number = 0;  ///< of the runs so far; 0: none yet
    bool running = false;
    std::string what;
    double done = 0;
    std::optional<std::string> error;  ///< one sentence, of the last run
  };

  Work() = default;
  Work(const Work&) = delete;
  Work& operator=(const Work&) = delete;
  ~Work();

  /// Begins a run, after cancelling the one under way. An Error that `job` throws becomes `error`.
  void start(std::function<void(const Tell&)> job);
  /// Asks the run under way to stop, and waits until it has.
  void cancel();
  [[nodiscard]] State state() const;

 private:
  void end();
  void tell(const std::string& what, double done);

  mutable std::mutex mutex_;
  State state_;
  bool cancelled_ = false;
  std::mutex handling_;  // of the thread
  std::thread thread_;
};

}  // namespace inkwane::desk
