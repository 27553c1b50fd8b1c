// Which ink regions of a side are printed as screens, read from the scans' own pixels.
#pragma once

#include "change/region_colour.hpp"
#include "change/screen_sheet.hpp"

namespace inkwane::change {

/// What the pixels say of one region.
struct RegionScreens {
  enum class Kind {
    unknown,    ///< not an ink region, or its pixels could not be had
    no_screen,  ///< none was found
    screened,
    too_many,  ///< more screens than can be told apart
  };
  Kind kind = Kind::unknown;
  /// A screen of any usual ruling would have been seen.
  bool fine_enough = false;
  bool compressed = false;        ///< a scan is a JPEG: its colour is too coarse for dots
  std::vector<Lattice> lattices;  ///< in the first stage's pixels
  double resolution_dpi = 0;      ///< of the first stage
  std::vector<std::optional<ScreenStage>> stages;  ///< of `screened`; none where not measured
  std::optional<ScreenModel> model;                ///< likewise

  [[nodiscard]] ScreenVerdict kept(int from, int to) const;
};

/// One a region of the side. `colours`: of every region (measure_region). Windows are read one
/// after the other; each is forgotten before the next.
[[nodiscard]] std::vector<RegionScreens> read_screens(const SideContext& context,
                                                      const std::vector<RegionColours>& colours);

}  // namespace inkwane::change
