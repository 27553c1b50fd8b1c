// A bath: what is in the tray, its pH, and what makes either doubtful.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "bath/estimate.hpp"
#include "bath/mixing.hpp"

namespace inkwane::bath {

enum class PhMethod { meter, strips };

struct BathInput {
  std::string solution;  ///< as the person calls it; "calcium hydroxide" alone gets a calculated pH
  std::optional<double> stock_g_per_l;  ///< none: saturated (calcium hydroxide only)
  std::optional<double> stock_percent;  ///< half range of the stock's concentration
  std::optional<double> stock_ml, water_ml, tray_ml, want_g_per_l;
  std::optional<std::pair<double, double>> parts;
  std::optional<double> celsius;
  std::optional<double> measured_ph;
  std::optional<PhMethod> ph_method;  ///< with measured_ph
};

/// Calcium of a bath of calcium hydroxide. It is in the water; what the paper takes up is less.
struct Calcium {
  Estimate mg_per_l;                ///< in dilute solution the same as ppm
  std::optional<Estimate> tray_mg;  ///< where the tray's volume is known
};

struct Ph {
  std::optional<Estimate> calculated, measured;
  std::optional<Estimate> stock;  ///< calculated, of the undiluted stock; where the bath is diluted
  /// The one to go by: measured before calculated; none where nothing tells.
  [[nodiscard]] const std::optional<Estimate>& best() const {
    return measured ? measured : calculated;
  }
};

struct Bath {
  std::string solution;
  bool lime = false;              ///< calcium hydroxide
  std::optional<double> celsius;  ///< none: not given, and no figure needs it
  bool celsius_assumed = false;
  Estimate stock_g_per_l;
  Mixture mixture;
  Estimate g_per_l;
  std::optional<Estimate> mmol_per_l;  ///< where the molar mass is known
  std::optional<Estimate> tray_g;      ///< of what is dissolved, in the whole tray
  std::optional<Estimate> saturation_g_per_l;
  std::optional<Calcium> calcium;
  Ph ph;
  std::vector<std::string> warnings, cautions, sources;
  bool doubtful = false;  ///< a warning puts the numbers themselves in doubt
};

/// The usual washing range and the pH above which cellulose is at risk: 7 to 9 is common practice,
/// no source; 10 is M. T. Roberts, D. Etherington, Bookbinding and the Conservation of Books: A
/// Dictionary of Descriptive Terminology, Library of Congress 1982, under alkalinity.
inline constexpr double kUsualLeastPh = 7, kUsualMostPh = 9, kRiskPh = 10;

/// Throws Error(usage) for what cannot be: see mix(); a temperature beyond the sources, a pH off
/// the scale, a saturated stock of something whose solubility is not known here.
[[nodiscard]] Bath make_bath(const BathInput& input);

}  // namespace inkwane::bath
