// By which law an ink darkens paper: what one place tells of it, what many tell together, and what
// share of a colour is left under it.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <Eigen/Core>

namespace inkwane::change {

/// Mixed into the paper (Kubelka–Munk, K/S adds), or as a clear film on it (Beer–Lambert, density
/// adds).
enum class InkLaw { kubelka_munk, film };
inline constexpr std::array<InkLaw, 2> kInkLaws{InkLaw::kubelka_munk, InkLaw::film};

/// The share of a colour that is left, as one law has it.
struct LawEstimate {
  double value = 0;
  std::array<double, 2> ci95{0, 0};
  /// χ² of the channels about a common share: under the right law they agree. 0: of one channel.
  double disagreement = 0;
};

/// The same by both laws.
struct Estimates {
  LawEstimate kubelka_munk, film;
};

/// χ² of the channels' shares about their common value.
[[nodiscard]] double channel_disagreement(const Eigen::VectorXd& shares,
                                          const Eigen::MatrixXd& covariance);

/// The law that this place's channels tell by themselves, if they do.
[[nodiscard]] std::optional<InkLaw> law_of(const Estimates& estimates);

/// What one place adds to what many tell: by how much its channels agree better on a film, capped.
/// None where one channel alone tells of the share.
[[nodiscard]] std::optional<double> evidence_of_film(const Estimates& estimates);

/// The law that many places tell together, where no one of them can; one value of `places` for each
/// place (of several changes of one place the mean). None where they are few or at odds.
[[nodiscard]] std::optional<InkLaw> law_of(const std::vector<double>& places);

struct Share {
  double value = 0;
  std::array<double, 2> ci95{0, 0};
  bool law_open = false;  ///< the law is not known, and matters
};

/// By the law that is known; else the value is Kubelka–Munk's and the interval spans both.
[[nodiscard]] Share share_kept(const Estimates& estimates, std::optional<InkLaw> law);

}  // namespace inkwane::change
