// Reference values and readings made for the tests.
#pragma once

#include <vector>

#include "target/fit.hpp"

namespace inkwane::test {

/// Colours spread like those of a common 24-patch chart; other layouts a walk through hues with a
/// ramp of greys in the last row.
target::Reference chart(int rows = 4, int columns = 6);

/// A scanner with its own primaries and tone: XYZ D50 → linear RGB of its profile.
Eigen::Vector3d scanner_linear(const LabD50& lab);

/// What scanner_linear sees of a chart, without noise.
std::vector<target::PatchReading> readings_of(const target::Reference& reference);

/// Of an sRGB scan.
colour::Linearisation profile();

}  // namespace inkwane::test
