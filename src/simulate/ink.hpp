// Inks, added colours and paper as spectra, and the two laws by which ink darkens paper.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "simulate/spectrum.hpp"

namespace inkwane::simulate {

/// Kubelka–Munk with one constant: the ink mixes with an opaque layer, K/S adds.
/// Beer–Lambert: a clear film on the paper that light crosses twice, R = Rp 10^(−2 D amount).
enum class InkLaw { kubelka_munk, beer_lambert };

/// One absorption band, height in K/S.
struct AbsorptionBand {
  enum class Shape { peak, below, above };  ///< Gaussian, or an edge with absorption on one side
  Shape shape = Shape::peak;
  double nm = 550;       ///< centre, or where the edge has half its height
  double width_nm = 30;  ///< standard deviation of a peak, logistic width of an edge
  double height = 1;
};

struct Ink {
  std::vector<AbsorptionBand> bands;
  double floor = 0;    ///< K/S everywhere
  bool added = false;  ///< colour added to the sheet later, not printing ink
};

/// yellow, red, magenta, blue, cyan, black, green, brown, orange; and, as added later, added-red,
/// -orange, -yellow, -green, -blue, -violet, -brown. Bands are invented so that solids look like
/// letterpress inks and water colours; none is a measured ink.
[[nodiscard]] std::map<std::string, Ink> standard_inks();

/// K/S of the ink at amount 1.
[[nodiscard]] Spectrum absorption(const Ink& ink);

/// Reflectance of aged cream paper. `toning`: relative change of what yellows it, −1 to any.
[[nodiscard]] Spectrum paper_reflectance(double toning, double darkening = 0);

/// What of an ink adds up under a law, at amount 1: K/S, or the film's density D. D is chosen so
/// that amount 1 on untoned paper has the same colour under both laws.
[[nodiscard]] Spectrum strength(InkLaw law, const Ink& ink);

/// Paper with strengths added.
[[nodiscard]] Spectrum inked(InkLaw law, const Spectrum& paper, const Spectrum& strength);

/// Mean of the strength over the bands: the one number by which inks are weighed together.
[[nodiscard]] double mean_strength(const Spectrum& strength);

}  // namespace inkwane::simulate
