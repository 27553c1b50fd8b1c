// By which law an ink darkens paper: what one place tells of it, what many tell together, and what
// share of a colour is left under it.
#pragma once

#include <array>
#include <optional>

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
  /// Logarithm of how likely the channels' shares are if this is the law: under the right one they
  /// agree. None of one channel alone.
  std::optional<double> log_likelihood;
  /// What the value is off by, in parts: of two pairs of stages with the same first one the dot
  /// product is the covariance of their shares.
  Eigen::VectorXf errors;
};

/// The same by both laws.
struct Estimates {
  LawEstimate kubelka_munk, film;
  [[nodiscard]] const LawEstimate& by(InkLaw law) const {
    return law == InkLaw::film ? film : kubelka_munk;
  }
};

/// By how much a broad band overstates the share that is kept, and how much that varies from ink to
/// ink (standard deviation).
struct BandError {
  double mean = 0, sd = 0;
};
/// Of the sum of the channels. `strength`: Σ over the channels before, in K/S or density; `kept`:
/// the share.
[[nodiscard]] BandError band_error(InkLaw law, double strength, double kept);

/// Logarithm of how likely the shares of several channels are, if all keep `kept` but for what
/// broad bands make of it and for `covariance`. `relative`: each channel's strength before, against
/// the strongest's.
[[nodiscard]] double channel_log_likelihood(InkLaw law, const Eigen::VectorXd& shares,
                                            const Eigen::VectorXd& relative, double kept,
                                            const Eigen::MatrixXd& covariance);
/// Channels weaker than this, against the strongest, say nothing sure.
inline constexpr double kClearChannel = 0.08;

/// What one place says for a film: the logarithm of the odds, from its channels, between −4 and 2.
/// None where one channel alone tells of the share.
[[nodiscard]] std::optional<double> evidence_of_film(const Estimates& estimates);

/// What all places of a sheet say for a film, summed by what they are: the print's inks, and
/// colours added by hand.
struct SheetEvidence {
  double ink = 0, added = 0;
};

/// Logarithm of the odds for a film at a place that says `own` itself, where the other places of
/// its kind say `alike` and those of the other kind `unlike`. Neither is ever taken for sure, as
/// inks of one sheet may differ. Before anything is measured, inks are held to lie in the paper
/// rather than on it (e² to 1, common practice, no source).
[[nodiscard]] double odds_of_film(std::optional<double> own, double alike, double unlike);

/// The law that such odds leave beyond doubt (20 to 1).
[[nodiscard]] std::optional<InkLaw> law_of(double odds);

/// By which law the cells of a sheet are taken.
struct SheetLaws {
  InkLaw ink = InkLaw::kubelka_munk, added = InkLaw::kubelka_munk;
};
/// The laws that are beyond doubt, else Kubelka–Munk's.
[[nodiscard]] SheetLaws laws_of(const SheetEvidence& sheet);

struct Share {
  double value = 0;
  std::array<double, 2> ci95{0, 0};
  bool law_open = false;  ///< the law is not known, and matters
};

/// By the law that is beyond doubt; else the value is Kubelka–Munk's, and the interval holds 95 %
/// of what both say, each as far as it is likely.
[[nodiscard]] Share share_kept(const Estimates& estimates, double odds_of_film);

}  // namespace inkwane::change
