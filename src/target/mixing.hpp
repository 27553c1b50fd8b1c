// The model's mixing over many cells at once, in single precision.
#pragma once

#include <array>
#include <cstddef>

#include "target/model.hpp"

namespace inkwane::target {

/// Same as mix(), to 1e-6 of white, for rows of cells. NaN in any channel comes out as NaN in all.
class Mixing {
 public:
  /// `terms`: how many of the 13 the model uses (terms_of).
  Mixing(const Parameters& parameters, int terms);

  /// `light` and `xyz`: 3 × `cells` values, R G B and X Y Z interleaved.
  void apply(const float* light, float* xyz, std::size_t cells) const;

 private:
  static constexpr std::size_t kBlock = 256;
  using Plane = std::array<float, kBlock>;
  void mix_block(const std::array<Plane, 3>& light, std::array<Plane, 3>& xyz) const;

  int terms_;
  std::array<std::array<float, kTerms>, 3> rows_;  // scaled to XYZ; grey parts of φ folded in
  std::array<float, 3> offset_;
};

}  // namespace inkwane::target
