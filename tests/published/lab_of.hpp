// What the program makes of one encoded colour, from the profile to Lab D50.
#pragma once

#include <array>
#include <cstdint>

#include "colour/icc.hpp"

namespace inkwane::test {

inline LabD50 lab_of(const colour::Linearisation& linearisation,
                     const std::array<std::uint16_t, 3>& encoded) {
  std::array<float, 3> linear;
  linearisation.apply(encoded, linear);
  const Eigen::Vector3d xyz =
      linearisation.to_xyz() * Eigen::Vector3d(static_cast<double>(linear[0]),
                                               static_cast<double>(linear[1]),
                                               static_cast<double>(linear[2]));
  return to_lab({xyz[0], xyz[1], xyz[2]});
}

}  // namespace inkwane::test
