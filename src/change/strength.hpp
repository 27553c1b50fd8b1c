// How much of a colour is still there: ink strength kept, or added colour that remains.
#pragma once

#include <array>
#include <optional>

#include <Eigen/Core>

#include <inkwane/colour.hpp>

#include "change/ink_law.hpp"

namespace inkwane::change {

/// What a share is taken from: the place itself and what lies beside or under it, before and after.
enum Part { place_from, place_to, under_from, under_to };
inline constexpr int kParts = 4;

struct Colours {
  std::array<LabD50, kParts> lab;
  std::array<Eigen::MatrixXd, kParts> errors;  ///< joint draws of the errors of each, draws × 3
};

/// Σ absorption after / Σ absorption before, over the channels of sharpened RGB; absorption is that
/// of the place less that of what lies under it. None where the absorption before is less than 2.5
/// times its own uncertainty.
[[nodiscard]] std::optional<Estimates> estimate_share(const Colours& colours);

/// Lower end of strength kept if the place is a screen of dark dots, whose fading the average
/// hides: K/S of dots of which the average is made by a coverage that does not change. None where
/// the place is so dark in the channel in which it absorbs most that it must be a solid.
[[nodiscard]] std::optional<double> share_kept_if_screened(const Colours& colours);

}  // namespace inkwane::change
