// The two things of an Exif block that matter for measuring: orientation and resolution.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "scan/decoder.hpp"

namespace inkwane::scan {

struct Exif {
  Orientation orientation = Orientation::upright;
  std::optional<Resolution> resolution;
};

/// `tiff`: the block from its TIFF header on (without the "Exif\0\0" of a JPEG marker). A block
/// that cannot be parsed says nothing.
[[nodiscard]] Exif read_exif(std::span<const std::uint8_t> tiff);

}  // namespace inkwane::scan
