// Stray light from a scan of anything: bare paper dims beside dark print and dark backing.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include <Eigen/Core>

#include "scanner/stray_light.hpp"

namespace inkwane::scanner {

/// Reaches that are tried, from the least to the most.
inline constexpr int kReaches = 8;
[[nodiscard]] double length_of_reach(int reach);
/// Prior of ln ℓ: a factor of 1.6 about that of a consumer flatbed, as what is no card hardly tells
/// it. In squared standard deviations.
[[nodiscard]] double cost_of_reach(int reach);

/// What one scan's bare paper says: normal equations, a part of the bed each, of a surround for
/// each reach and of the lamp's slope and bend.
struct PaperEvidence {
  static constexpr int kLamp = 4, kUnknowns = kReaches + kLamp;
  struct Part {
    Eigen::Matrix<double, kUnknowns, kUnknowns> matrix;
    Eigen::Matrix<double, kUnknowns, 1> fall;
    double squares = 0, cells = 0;
  };
  std::vector<Part> parts;
};

/// `fine`: linear light of the whole scan in cells of some 0.2 mm; `card`: outline of the target in
/// the scan's pixels, whose white patches are no paper.
[[nodiscard]] PaperEvidence look_at_paper(const CoarseLight& fine, const std::vector<Point>& card);

/// What the paper of all scans of one scanner says together; none where there is too little. The
/// uncertainty is how far parts of the beds differ.
[[nodiscard]] std::optional<StrayLightEstimate> tell_by_paper(std::span<const PaperEvidence> scans);

}  // namespace inkwane::scanner
