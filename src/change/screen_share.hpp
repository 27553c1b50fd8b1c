// Strength kept of inks printed as screens (docs/method.md, "Screens"): from the mean and the
// spectrum's peaks of a region, so that the fading of the dots is not averaged away.
#pragma once

#include "change/screen_fit.hpp"

namespace inkwane::change {

struct ScreenVerdict {
  std::optional<Estimates> estimates;
  std::vector<std::string> warnings;  ///< what makes it doubtful, or why there is none
};

/// How far light spreads in this sheet's paper, standard deviation, mm.
struct LightSpread {
  double mm = 0.05, u_mm = 0.02;
};

/// What the first stage says of a region's screens, to be held at all later ones: dots keep their
/// size, only their ink and what lies between them changes.
class ScreenModel {
 public:
  ScreenModel(const ScreenStage& first, const std::vector<double>& period_mm,
              const LightSpread& spread, const ScreenSheet& sheet);

  /// Share of the cell that each screen's dots cover.
  [[nodiscard]] const std::vector<double>& coverage() const {
    return believed(kInkLaws[0]).coverage;
  }
  [[nodiscard]] ScreenVerdict kept(const ScreenStage& from, const ScreenStage& to) const;

 private:
  struct Kept;
  struct OfLaw {
    std::vector<ScreenFit> fits;  // the first is what is believed, the others how it may be wrong
    std::vector<double> u_coverage;
  };
  [[nodiscard]] const ScreenFit& believed(InkLaw law) const { return of(law).fits.front(); }
  [[nodiscard]] const OfLaw& of(InkLaw law) const { return laws_[static_cast<std::size_t>(law)]; }
  [[nodiscard]] LawEstimate estimate(const ScreenStage& from, const ScreenStage& to,
                                     InkLaw law) const;
  std::array<OfLaw, 2> laws_;
};

}  // namespace inkwane::change
