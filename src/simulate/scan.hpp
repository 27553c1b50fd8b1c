// A sheet and a target on the bed → a scan.
#pragma once

#include "simulate/chart.hpp"
#include "simulate/placement.hpp"
#include "simulate/sheet.hpp"

namespace inkwane::simulate {

/// The scanner's R G B of a spectrum.
[[nodiscard]] std::array<float, 3> seen_by_sensor(const Spectrum& reflectance);
/// What lies under and beside the sheet.
[[nodiscard]] Spectrum backing_reflectance(const Scene& scene);

/// Linear R G B of the whole scan, CV_32FC3, after the optics' point spread; every row of `sheet`
/// is made on the way.
[[nodiscard]] cv::Mat look(const Scene& scene, const Placement& placement,
                           const std::vector<Patch>& chart, SheetRaster& sheet);

}  // namespace inkwane::simulate
