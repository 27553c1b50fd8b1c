// What the first stage says of a region's screens: how much of the cell their dots cover, and how
// dark the dots are.
#pragma once

#include <optional>

#include "change/ink_law.hpp"
#include "change/screen_cell.hpp"
#include "change/screen_reading.hpp"

namespace inkwane::change {

/// Σ over the channels: what of an ink adds up under a law. K/S above the background, or density.
/// `background`, `dot`: sharpened reflectance.
[[nodiscard]] Eigen::Vector3d ink_strength(InkLaw law, const Eigen::Vector3d& background,
                                           const Eigen::Vector3d& dot);

/// A screened region at one stage.
struct ScreenStage {
  ScreenReading reading;
  Eigen::Vector3d paper =
      Eigen::Vector3d::Ones();  ///< sharpened reflectance of the paper beside it
  double u_sigma_px = 0;        ///< standard uncertainty of the scan's point spread
  double overshoot = 0;         ///< what sharpening left at its edges (target::PointSpread)
};

/// Taken for granted in a fit.
struct ScreenSetting {
  double spread_mm = 0.05;  ///< standard deviation of the light's spread in the paper
  double sharper = 0;       ///< the scan's point spread, moved by this many of its uncertainties
  DotForm form = DotForm::cosines;
  std::vector<double> aspect;  ///< of each lattice
  InkLaw law = InkLaw::kubelka_munk;
};

/// What other places of the sheet say of a screen's ink: the u of its dots in one channel.
struct KnownInk {
  int channel = 0;
  double absorbed = 0, u = 0;  ///< and its standard uncertainty
};

/// What is known of the sheet.
struct ScreenSheet {
  std::vector<Eigen::Vector3d> solids;        ///< relative to the paper: may lie under a screen
  std::vector<std::optional<KnownInk>> inks;  ///< of each lattice
};

/// Dots and what lies between them, a channel.
struct Dots {
  std::vector<Eigen::Vector3d> absorbed;  ///< u of each lattice: 1 − √(R of the dot / R between)
  Eigen::Vector3d background = Eigen::Vector3d::Ones();  ///< R between the dots, against the paper
  bool saturated = false;  ///< a peak is higher than black dots would make it
};

class ScreenFit {
 public:
  /// Chooses the coverages whose background comes nearest to bare paper, or to a solid, and whose
  /// dots come nearest to the inks known.
  ScreenFit(const ScreenStage& first, const std::vector<double>& period_mm,
            const ScreenSetting& setting, const ScreenSheet& sheet);

  std::vector<double> coverage;
  double chi2 = 0;
  bool over_solid = false;

  /// Of a stage, with these coverages (in place of the fitted ones, to see what follows).
  [[nodiscard]] Dots dots(const ScreenStage& stage, const std::vector<double>& coverages) const;
  [[nodiscard]] Dots dots(const ScreenStage& stage) const { return dots(stage, coverage); }
  /// How far each coverage can be moved before χ² rises by 1.
  [[nodiscard]] std::vector<double> u_coverage(const ScreenStage& first,
                                               const ScreenSheet& sheet) const;
  [[nodiscard]] const ScreenSetting& setting() const { return setting_; }
  /// Fundamental along the one direction ÷ along the other, of lattice j.
  [[nodiscard]] double along(std::size_t j) const { return cells_[j].at(coverage[j]).along; }
  /// χ² for each degree of freedom is beyond what any background here would make.
  [[nodiscard]] bool bad() const;

 private:
  struct Misfit {
    double chi2 = 0;
    bool over_solid = false;
  };
  [[nodiscard]] Misfit misfit(const ScreenStage& first, const ScreenSheet& sheet,
                              const std::vector<double>& coverages) const;
  ScreenSetting setting_;
  std::vector<CellTable> cells_;
};

}  // namespace inkwane::change
