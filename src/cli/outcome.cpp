#include "cli/outcome.hpp"

#include <algorithm>
#include <new>
#include <system_error>

#include <fmt/format.h>
#include <opencv2/core.hpp>

namespace inkwane::cli {
namespace {

Ended out_of_memory() {
  return {ExitCode::output,
          "memory ran out; close other programs, give fewer --threads or --jobs, or set a coarser "
          "[measure] grid_mm."};
}

Ended unexpected(std::string what) {
  std::replace(what.begin(), what.end(), '\n', ' ');
  while (what.ends_with(' ')) what.pop_back();
  return {ExitCode::output,
          fmt::format("stopped at something it did not expect ({}); please report this.", what)};
}

}  // namespace

Ended guarded(const Run& work) {
  try {
    return {work(), ""};
  } catch (const Error& error) {
    return {error.code(), error.what()};
  } catch (const std::bad_alloc&) {
    return out_of_memory();
  } catch (const cv::Exception& error) {
    return error.code == cv::Error::StsNoMem ? out_of_memory() : unexpected(error.what());
  } catch (const std::system_error& error) {
    // A thread that could not be started: there is no room for its stack.
    return error.code() == std::errc::resource_unavailable_try_again ? out_of_memory()
                                                                     : unexpected(error.what());
  } catch (const std::exception& error) {
    return unexpected(error.what());
  }
}

}  // namespace inkwane::cli
