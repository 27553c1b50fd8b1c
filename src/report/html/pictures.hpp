// Files of the assessment's folder, taken into the page.
#pragma once

#include <filesystem>
#include <map>
#include <string>

namespace inkwane::report {

/// The bytes of a file of the assessment. Throws Error(output) where it cannot be read.
[[nodiscard]] std::string bytes_of(const std::filesystem::path& file);
[[nodiscard]] std::string base64(const std::string& bytes);
/// "sha256-…" as a content security policy names a script.
[[nodiscard]] std::string policy_hash(const std::string& script);

/// Turns files into data URIs until the page is full; later ones are then only named.
class Pictures {
 public:
  explicit Pictures(std::filesystem::path folder) : folder_(std::move(folder)) {}

  /// Empty where the page is full.
  [[nodiscard]] std::string uri(const std::string& file);
  /// Base64 of any other file; empty where the page is full.
  [[nodiscard]] std::string data(const std::string& file);

 private:
  std::filesystem::path folder_;
  std::size_t taken_ = 0;  // characters
};

}  // namespace inkwane::report
