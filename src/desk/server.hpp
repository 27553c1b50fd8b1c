// The desk over HTTP, on this machine alone.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

namespace inkwane::desk {

struct ServeOptions {
  int port = 0;     ///< 0: any that is free
  int threads = 0;  ///< of the assessment; 0: as many as the machine has
  /// Told the page's address once it can be opened.
  std::function<void(const std::string& address)> ready;
};

/// Serves the desk of a treatment on 127.0.0.1 until SIGINT or SIGTERM comes. Throws Error(usage)
/// for a treatment that can't be read, Error(output) where the port is taken.
void serve(const std::filesystem::path& treatment, const ServeOptions& options);

}  // namespace inkwane::desk
