#include "bath/bath.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "bath/calcium_hydroxide.hpp"
#include "bath/cautions.hpp"
#include "bath/slips.hpp"

namespace inkwane::bath {
namespace {

// Half ranges, all common practice, no source: a stock of calcium hydroxide called saturated at
// room temperature, any other stock as made up, a volume read on a measuring cylinder, a room whose
// temperature was not measured, a meter calibrated above pH 10, and indicator strips.
constexpr double kLimeStockShare = 0.08, kOtherStockShare = 0.05, kVolumeShare = 0.02;
constexpr double kRoomCelsius = 20, kRoomHalf = 3, kThermometerHalf = 0.5;
constexpr double kMeterHalf = 0.1, kStripsHalf = 0.5;
// A smaller fall of the pH is not worth a sentence.
constexpr double kLeastDrop = 0.05;

const char* const kCarbonDioxide =
    "air and acidic paper have used up alkali, or the stock was weaker";

[[noreturn]] void refuse(const std::string& sentence) {
  throw Error(ExitCode::usage, sentence);
}

void check_input(const BathInput& input, bool lime) {
  if (input.solution.empty()) refuse("the solution has no name; say what the stock is.");
  if (!input.stock_g_per_l && !lime) {
    refuse(
        fmt::format("a saturated stock of {} cannot be guessed: only calcium hydroxide's "
                    "solubility is known here; give the stock's concentration in g/L.",
                    input.solution));
  }
  if (input.stock_percent && !(*input.stock_percent >= 0 && *input.stock_percent < 100)) {
    refuse(
        fmt::format("the stock's uncertainty of {:g} % is out of range; it must be from 0 to "
                    "less than 100.",
                    *input.stock_percent));
  }
  if (input.celsius && !(*input.celsius >= kLeastCelsius && *input.celsius <= kMostCelsius)) {
    refuse(fmt::format("{:g} °C is beyond what the sources cover; it must be from {:g} to {:g} °C.",
                       *input.celsius, kLeastCelsius, kMostCelsius));
  }
  if (input.measured_ph && !(*input.measured_ph >= 0 && *input.measured_ph <= 14)) {
    refuse(fmt::format("a measured pH of {:g} is off the scale; it must be from 0 to 14.",
                       *input.measured_ph));
  }
  if (input.ph_method && !input.measured_ph) {
    refuse("the method of measuring pH was given without the measured pH; give both.");
  }
}

/// Calculated pH with the ranges of the model, the concentration and the temperature together.
std::optional<Estimate> calculated_ph(const Estimate& g_per_l, double celsius, double celsius_half,
                                      const Estimate& saturation) {
  const double dissolved = std::min(g_per_l.value, saturation.value);
  if (dissolved < kLeastCalculated) return std::nullopt;
  const double share = (g_per_l.high - g_per_l.low) / (2 * g_per_l.value);
  const double from_strength =
      (lime_ph(dissolved * (1 + share), celsius) - lime_ph(dissolved * (1 - share), celsius)) / 2;
  const double from_warmth =
      (lime_ph(dissolved, celsius - celsius_half) - lime_ph(dissolved, celsius + celsius_half)) / 2;
  return within(lime_ph(dissolved, celsius), together({kPhModelHalf, from_strength, from_warmth}));
}

class Maker {
 public:
  explicit Maker(const BathInput& input) : input_(input) {
    bath_.solution = input.solution;
    std::string name = input.solution;
    std::transform(name.begin(), name.end(), name.begin(), [](char c) {
      return static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    });
    bath_.lime = name == "calcium hydroxide";
  }

  Bath make() {
    check_input(input_, bath_.lime);
    warmth();
    strength();
    slips();
    if (bath_.lime) lime();
    measured();
    judge();
    bath_.cautions = bath_cautions(bath_.lime);
    return std::move(bath_);
  }

 private:
  void warn(const std::string& sentence) { bath_.warnings.push_back(sentence); }
  void doubt(const std::string& sentence) {
    warn(sentence);
    bath_.doubtful = true;
  }

  void warmth() {
    celsius_half_ = input_.celsius ? kThermometerHalf : kRoomHalf;
    bath_.celsius = input_.celsius;
    bath_.celsius_assumed = bath_.lime && !input_.celsius;
    if (bath_.celsius_assumed) {
      bath_.celsius = kRoomCelsius;
      warn(fmt::format(
          "No temperature was given: {:g} ± {:g} °C is assumed, and the calculated pH is "
          "the wider for it (it falls by 0.033 a degree); measure it.",
          kRoomCelsius, kRoomHalf));
    }
  }

  void strength() {
    const double usual = bath_.lime ? kLimeStockShare : kOtherStockShare;
    const double stated = input_.stock_percent ? *input_.stock_percent / 100 : usual;
    const double stock_share = input_.stock_g_per_l
                                   ? stated
                                   : std::max(kSaturationShare, input_.stock_percent ? stated : 0);
    const double stock =
        input_.stock_g_per_l ? *input_.stock_g_per_l : lime_saturation(*bath_.celsius);
    bath_.stock_g_per_l = within_share(stock, stock_share);
    bath_.mixture = mix({stock, input_.stock_ml, input_.water_ml, input_.tray_ml, input_.parts,
                         input_.want_g_per_l});
    const bool diluted = bath_.mixture.factor > 1;
    const double share =
        diluted ? together({stock_share, kVolumeShare, kVolumeShare}) : stock_share;
    bath_.g_per_l = within_share(bath_.mixture.g_per_l, share);
    if (bath_.mixture.tray_ml) {
      bath_.tray_g = within_share(bath_.mixture.g_per_l * *bath_.mixture.tray_ml / 1000,
                                  together({share, diluted ? 0 : kVolumeShare}));
    }
    if (input_.stock_g_per_l && !input_.stock_percent) {
      bath_.sources.push_back(
          fmt::format("Range of the stock, ±{:.0f} %: common practice, no source.", 100 * usual));
    }
    bath_.sources.push_back(
        fmt::format("Volumes ±{:.0f} %: common practice, no source.", 100 * kVolumeShare));
  }

  void lime() {
    const auto scaled = [](const Estimate& of, double factor) {
      return Estimate{of.value * factor, of.low * factor, of.high * factor};
    };
    bath_.mmol_per_l = scaled(bath_.g_per_l, 1000 / kMolarMassLime);
    bath_.calcium = Calcium{scaled(bath_.g_per_l, 1000 * kCalciumShare), {}};
    if (bath_.tray_g) bath_.calcium->tray_mg = scaled(*bath_.tray_g, 1000 * kCalciumShare);
    const Estimate saturation = within_share(lime_saturation(*bath_.celsius), kSaturationShare);
    bath_.saturation_g_per_l = saturation;
    bath_.ph.calculated = calculated_ph(bath_.g_per_l, *bath_.celsius, celsius_half_, saturation);
    if (bath_.mixture.factor > 1) {
      bath_.ph.stock =
          calculated_ph(bath_.stock_g_per_l, *bath_.celsius, celsius_half_, saturation);
    }
    if (!bath_.ph.calculated) {
      warn(fmt::format(
          "Below {:g} g/L the carbon dioxide of the air decides and no pH is calculated; "
          "measure it in the tray.",
          kLeastCalculated));
    }
    if (bath_.stock_g_per_l.value > saturation.high) {
      doubt(fmt::format(
          "A stock of {:g} g/L is more than water holds at {:g} °C ({:.2f} g/L, {:.2f} "
          "to {:.2f}): the rest lies undissolved; let it settle, decant, and count with "
          "what is dissolved.",
          bath_.stock_g_per_l.value, *bath_.celsius, saturation.value, saturation.low,
          saturation.high));
    }
    bath_.sources.insert(
        bath_.sources.end(),
        {"Solubility: handbook series from memory, within 10 % of NBS 1956 (doi "
         "10.6028/jres.056.040).",
         "Calculated pH: Davies activity, CaOH⁺ pairs (minteq.v4.dat, US Geological Survey), ion "
         "product of water after Marshall and Franck 1981; within 0.02 of NBS 1956 between 0 and "
         "40 "
         "°C."});
  }

  void measured() {
    if (!input_.measured_ph) {
      if (!bath_.lime) {
        warn(fmt::format(
            "No pH is calculated for {}: no published value checks one here; measure it "
            "in the tray and enter it.",
            bath_.solution));
      }
      return;
    }
    const bool meter = input_.ph_method == PhMethod::meter;
    bath_.ph.measured = within(*input_.measured_ph, meter ? kMeterHalf : kStripsHalf);
    if (!input_.ph_method) {
      warn(fmt::format(
          "How the pH was measured was not said: ±{:g} is taken, as of indicator strips.",
          kStripsHalf));
    }
    bath_.sources.push_back(fmt::format("Measured pH ±{:g}: common practice, no source.",
                                        meter ? kMeterHalf : kStripsHalf));
    compare();
  }

  /// A measured pH against the calculated one: lower is usual, higher cannot be.
  void compare() {
    if (!bath_.ph.calculated) return;
    const Estimate& found = *bath_.ph.measured;
    const Estimate& expected = *bath_.ph.calculated;
    const double apart = found.value - expected.value;
    const double allowed = together({found.high - found.value, expected.high - expected.value});
    if (apart > allowed) {
      doubt(
          fmt::format("The measured pH is {:.2f} above the calculated one, more than both ranges "
                      "allow: the bath is stronger than stated, or the meter wants calibrating.",
                      apart));
    } else if (-apart > allowed) {
      warn(
          fmt::format("The measured pH is {:.2f} below the calculated one: {}. The measured one "
                      "stands.",
                      -apart, kCarbonDioxide));
    }
  }

  void judge() {
    const auto& best = bath_.ph.best();
    if (!best) return;
    if (best->high >= kRiskPh) {
      warn(
          fmt::format("pH {:.1f} {} 10: outside the usual washing range of {:g} to {:g}; for any "
                      "length of time "
                      "it risks oxidation of the cellulose (Roberts and Etherington 1982).",
                      best->value, best->low >= kRiskPh ? "is above" : "may be above",
                      kUsualLeastPh, kUsualMostPh));
    } else if (best->value > kUsualMostPh || best->value < kUsualLeastPh) {
      warn(fmt::format(
          "pH {:.1f} is {} the usual washing range of {:g} to {:g} (common practice, no "
          "source).",
          best->value, best->value > kUsualMostPh ? "above" : "below", kUsualLeastPh,
          kUsualMostPh));
    }
    if (!bath_.ph.stock || !bath_.ph.calculated) return;
    const double drop = bath_.ph.stock->value - bath_.ph.calculated->value;
    if (bath_.ph.calculated->value >= kRiskPh && drop >= kLeastDrop) {
      warn(fmt::format(
          "Dilute is not mild: diluting {:.3g}-fold lowers the calculated pH by only "
          "{:.1f}, from {:.1f} to {:.1f}.",
          bath_.mixture.factor, drop, bath_.ph.stock->value, bath_.ph.calculated->value));
    }
  }

  void slips() {
    std::vector<std::optional<std::string>> questions;
    if (bath_.mixture.tray_ml) {
      questions.push_back(question_tray(*bath_.mixture.tray_ml));
      questions.push_back(question("The stock volume", *bath_.mixture.stock_ml, "the tray volume",
                                   *bath_.mixture.tray_ml, "mL"));
    } else if (bath_.mixture.factor >= kSlipFactor) {
      questions.push_back(
          question("The bath", bath_.g_per_l.value, "the stock", bath_.stock_g_per_l.value, "g/L"));
    }
    if (bath_.lime) {
      questions.push_back(question("The stock", bath_.stock_g_per_l.value, "a saturated solution",
                                   lime_saturation(*bath_.celsius), "g/L"));
    }
    for (const auto& asked : questions) {
      if (asked) doubt(*asked);
    }
  }

  const BathInput& input_;
  Bath bath_;
  double celsius_half_ = 0;
};

}  // namespace

Bath make_bath(const BathInput& input) {
  return Maker(input).make();
}

}  // namespace inkwane::bath
