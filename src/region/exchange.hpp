// Shapes from elsewhere ↔ regions of a treatment.
#pragma once

#include <filesystem>
#include <optional>

#include "region/shape.hpp"

namespace inkwane::region {

/// What a person says of shapes whose file does not.
struct Given {
  std::optional<Side> side;
  std::optional<Role> role;
  bool replace = false;  ///< a shape with the id of a region takes its place
};

/// The scan that regions of a side are drawn on: its first stage's; null where no stage has one.
[[nodiscard]] const std::filesystem::path* first_scan(const Treatment& treatment, Side side);

/// Sizes of those scans, each read once. Throws Error(scan), and Error(usage), naming `file`, for a
/// shape whose side is told neither by itself, nor by the name of its picture, nor by `given`.
[[nodiscard]] ScanSize scan_sizes(const Treatment& treatment, const Given& given,
                                  const std::string& file);

/// The treatment's regions with the shapes among them. Throws Error(usage), naming `file` and the
/// shape, where side or role is not known, an id is there already, or a polygon crosses itself or
/// leaves the scan.
[[nodiscard]] std::vector<Region> with_shapes(const Treatment& treatment,
                                              const std::vector<Shape>& shapes, const Given& given,
                                              const std::string& file);

/// All regions, or those of one side.
[[nodiscard]] std::vector<Shape> to_shapes(const Treatment& treatment, std::optional<Side> side);

}  // namespace inkwane::region
