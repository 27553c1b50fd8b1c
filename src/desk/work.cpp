#include "desk/work.hpp"

#include <exception>
#include <new>

#include <fmt/format.h>

#include <inkwane/error.hpp>

namespace inkwane::desk {
namespace {

struct Cancelled {};

}  // namespace

Work::~Work() {
  cancel();
}

void Work::start(std::function<void(const Tell&)> job) {
  const std::lock_guard handling(handling_);
  end();
  {
    const std::lock_guard lock(mutex_);
    state_ = {state_.number + 1, true, {}, 0, std::nullopt};
    cancelled_ = false;
  }
  thread_ = std::thread([this, job = std::move(job)] {
    std::optional<std::string> error;
    try {
      job([this](const std::string& what, double done) { tell(what, done); });
    } catch (const Cancelled&) {
      error = "Stopped before it was done; nothing was changed.";
    } catch (const Error& e) {
      error = e.what();
    } catch (const std::bad_alloc&) {
      error = "Memory ran out; close other programs or set a coarser [measure] grid_mm.";
    } catch (const std::exception& e) {
      error =
          fmt::format("Stopped at something it did not expect ({}); please report this.", e.what());
    }
    const std::lock_guard lock(mutex_);
    state_.running = false;
    state_.error = error;
  });
}

void Work::cancel() {
  const std::lock_guard handling(handling_);
  end();
}

void Work::end() {
  {
    const std::lock_guard lock(mutex_);
    cancelled_ = true;
  }
  if (thread_.joinable()) thread_.join();
}

Work::State Work::state() const {
  const std::lock_guard lock(mutex_);
  return state_;
}

void Work::tell(const std::string& what, double done) {
  const std::lock_guard lock(mutex_);
  if (cancelled_) throw Cancelled();
  state_.what = what;
  state_.done = done;
}

}  // namespace inkwane::desk
