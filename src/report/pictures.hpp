// Pictures of the assessment's folder, taken into the page.
#pragma once

#include <filesystem>

#include "report/figures.hpp"

namespace inkwane::report {

/// Turns files into data URIs until the page is full; later ones are then only named.
class Pictures {
 public:
  explicit Pictures(std::filesystem::path folder) : folder_(std::move(folder)) {}

  /// {uri, file}; uri is false where the page is full. Throws Error(output) if it can't be read.
  data take(const std::string& file);

 private:
  std::filesystem::path folder_;
  std::size_t taken_ = 0;  // characters of data URIs
};

/// Each side's pictures, first and last stage: {sides: [{recto, pictures: [...]}]}.
[[nodiscard]] data picture_view(const results::Results& results, Pictures& pictures);
/// The maps, pair by pair.
[[nodiscard]] data map_view(const results::Results& results, Pictures& pictures);

}  // namespace inkwane::report
