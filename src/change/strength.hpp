// How much of a colour is still there: ink strength kept, or added colour that remains.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include <inkwane/colour.hpp>

namespace inkwane::change {

/// What a share is taken from: the place itself and what lies beside or under it, before and after.
enum Part { place_from, place_to, under_from, under_to };
inline constexpr int kParts = 4;

struct Colours {
  std::array<LabD50, kParts> lab;
  std::array<Eigen::MatrixXd, kParts> errors;  ///< joint draws of the errors of each, draws × 3
};

/// By which law an ink darkens what lies under it: mixed into the paper (Kubelka–Munk, K/S adds),
/// or as a clear film on it (Beer–Lambert, density adds).
enum class Law { kubelka_munk, film };

/// Σ absorption after / Σ absorption before, over the channels of sharpened RGB, by one law;
/// absorption is that of the place less that of what lies under it.
struct Estimate {
  double value = 0;
  std::array<double, 2> ci95{0, 0};
  /// χ² of the channels about a common share: under the right law they agree.
  double disagreement = 0;
};

/// A share by both laws.
struct Estimates {
  Estimate kubelka_munk, film;
};

/// None where the absorption before is less than 2.5 times its own uncertainty.
[[nodiscard]] std::optional<Estimates> estimate_share(const Colours& colours);

/// The law that this place's channels tell by themselves, if they do.
[[nodiscard]] std::optional<Law> law_of(const Estimates& estimates);

/// The law that many places tell together, where no one of them can; one value of `places` for each
/// place (of several changes of one place the mean). None where they are few or at odds.
[[nodiscard]] std::optional<Law> law_of(const std::vector<double>& places);

/// What one place adds to that: by how much its channels agree better on a film, capped.
[[nodiscard]] double evidence_of_film(const Estimates& estimates);

struct Share {
  double value = 0;
  std::array<double, 2> ci95{0, 0};
  bool law_open = false;  ///< the law is not known, and matters
};

/// By the law that is known; else the value is Kubelka–Munk's and the interval spans both.
[[nodiscard]] Share share_kept(const Estimates& estimates, std::optional<Law> law);

/// Lower end of strength kept if the place is a screen of dark dots, whose fading the average
/// hides: K/S of dots of which the average is made by a coverage that does not change. None where
/// the place is so dark in the channel in which it absorbs most that it must be a solid.
[[nodiscard]] std::optional<double> share_kept_if_screened(const Colours& colours);

}  // namespace inkwane::change
