#include "bath/light.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "bath/cautions.hpp"
#include "bath/slips.hpp"
#include "bath/weighting.hpp"

namespace inkwane::bath {
namespace {

// SI (2019), exact.
constexpr double kPlanck = 6.62607015e-34, kLightSpeed = 299792458.0;
constexpr double kElectron = 1.602176634e-19, kAvogadro = 6.02214076e23;
constexpr double kLumenPerWatt = 683;  // at V = 1: SI brochure, definition of the candela

// IEC 62471:2006, 4.3.3, as in public source code that cites it: radiance dose for up to 10⁴ s,
// radiance beyond.
constexpr double kRadianceDose = 1e6;   // J m⁻² sr⁻¹
constexpr double kRadianceLimit = 100;  // W m⁻² sr⁻¹

// Common practice, no source: a hand-held radiometer, an LED's peak against its data sheet, white
// paper, and a band wider than which a lamp is no longer of one colour.
constexpr double kMeterShare = 0.10, kPeakHalfNm = 2, kPaper = 0.8, kWideBandNm = 60;

[[noreturn]] void refuse(const std::string& sentence) {
  throw Error(ExitCode::usage, sentence);
}

void check(const char* name, double value, double least, double most, const char* unit) {
  if (std::isfinite(value) && value >= least && value <= most) return;
  refuse(fmt::format("{} of {:g}{} is out of range; it must be from {:g} to {:g}{}.", name, value,
                     unit, least, most, unit));
}

void check_positive(const char* name, const std::optional<double>& value, const char* unit) {
  if (!value || (std::isfinite(*value) && *value > 0)) return;
  refuse(fmt::format("{} of {:g}{} is not above 0; give what was measured.", name, *value, unit));
}

void check_input(const LightInput& input) {
  check_positive("the irradiance", input.w_per_m2, " W/m²");
  check("the peak", input.peak_nm, kLeastPeakNm, kMostPeakNm, " nm");
  if (input.width_nm) check("the width", *input.width_nm, 0, 200, " nm");
  if (input.meter_percent) check("the meter's range", *input.meter_percent, 0, 99, " %");
  if (input.reflectance) check("the reflectance", *input.reflectance, 0, 1, "");
  check_positive("the time", input.seconds, " s");
  check_positive("the emitter's radiance", input.emitter_w_per_m2_sr, " W/(m² sr)");
  if (input.reach) check_positive("the earlier dose", input.reach->j_per_cm2, " J/cm²");
}

/// Half range, as a share, of a mean over the band for a peak that is known to kPeakHalfNm only.
double peak_share(const std::function<double(double)>& weight, double peak, double width) {
  const double here = band_mean(weight, peak, width);
  const double shift = std::abs(band_mean(weight, peak + kPeakHalfNm, width) -
                                band_mean(weight, peak - kPeakHalfNm, width));
  return here > 0 ? shift / (2 * here) : 0;
}

Estimate times(const Estimate& of, double factor) {
  return {of.value * factor, of.low * factor, of.high * factor};
}

Hazard hazard(double radiance, double b, double share) {
  Hazard out;
  const double half = std::min(share, 1.0);
  out.w_per_m2_sr = within_share(b * radiance, half);
  if (out.w_per_m2_sr.high <= kRadianceLimit) return out;
  const Estimate& l = out.w_per_m2_sr;
  out.limit_seconds = Estimate{kRadianceDose / l.value, kRadianceDose / l.high,
                               l.low > 0 ? kRadianceDose / l.low : kRadianceDose / l.value};
  return out;
}

class Maker {
 public:
  explicit Maker(const LightInput& input) : input_(input) {}

  Light make() {
    check_input(input_);
    band();
    dose();
    reach();
    hazards();
    warnings();
    light_.cautions = light_cautions();
    return std::move(light_);
  }

 private:
  void warn(const std::string& sentence) { light_.warnings.push_back(sentence); }
  void doubt(const std::string& sentence) {
    warn(sentence);
    light_.doubtful = true;
  }

  void band() {
    meter_ = input_.meter_percent ? *input_.meter_percent / 100 : kMeterShare;
    light_.w_per_m2 = within_share(input_.w_per_m2, meter_);
    light_.peak_nm = input_.peak_nm;
    light_.width_nm = input_.width_nm.value_or(0);
    light_.seconds = input_.seconds;
    light_.ev_per_photon = photon_ev(light_.peak_nm);
    light_.umol_per_j = photons_umol_per_j(light_.peak_nm);
    const double v = band_mean(luminous_efficiency, light_.peak_nm, light_.width_nm);
    const double v_share = peak_share(luminous_efficiency, light_.peak_nm, light_.width_nm);
    light_.lux = within_share(kLumenPerWatt * v * input_.w_per_m2, together({meter_, v_share}));
    light_.umol_per_m2_s = within_share(light_.umol_per_j * input_.w_per_m2,
                                        together({meter_, kPeakHalfNm / light_.peak_nm}));
    light_.sources = {
        "Photons: exact constants of the SI. Lux: V(λ) of CIE 018:2019, from memory, 683 lm/W.",
        fmt::format("Ranges: irradiance ±{:.0f} %{}; peak ±{:g} nm (common practice, no source).",
                    100 * meter_, input_.meter_percent ? "" : " (common practice, no source)",
                    kPeakHalfNm)};
  }

  void dose() {
    if (!input_.seconds) return;
    light_.j_per_m2 = times(light_.w_per_m2, *input_.seconds);
    light_.j_per_cm2 = times(*light_.j_per_m2, 1e-4);
    light_.mol_per_m2 = times(light_.umol_per_m2_s, 1e-6 * *input_.seconds);
    light_.lux_hours = times(light_.lux, *input_.seconds / 3600);
  }

  void reach() {
    if (!input_.reach) return;
    light_.reach_j_per_cm2 = input_.reach->j_per_cm2;
    const double seconds = 1e4 * input_.reach->j_per_cm2 / input_.w_per_m2;
    light_.reach_seconds =
        within_share(seconds, std::min(1.0, together({meter_, input_.reach->percent / 100})));
    warn(
        "The same dose need not do the same: reciprocity fails for sensitive colourants, and "
        "earlier light makes a colour look faster than it is; watch the sheet, not the clock.");
  }

  void hazards() {
    light_.reflectance = input_.reflectance.value_or(kPaper);
    const double b = band_mean(blue_light_hazard, light_.peak_nm, light_.width_nm);
    const double b_share = peak_share(blue_light_hazard, light_.peak_nm, light_.width_nm);
    const double share = together({meter_, b_share});
    light_.sheet = hazard(light_.reflectance * input_.w_per_m2 / std::numbers::pi, b, share);
    if (input_.emitter_w_per_m2_sr) light_.emitter = hazard(*input_.emitter_w_per_m2_sr, b, share);
    light_.sources.emplace_back(
        "Blue-light hazard: B(λ) and limits of IEC 62471:2006, from public source code that cites "
        "it.");
  }

  void warnings() {
    warn(
        "Lux misleads in the blue: the eye, and so the light meter, hardly sees what bleaches; go "
        "by "
        "W/m² (Kruth, BPG Annual 1, 1982, already calls the light meter an imperfect instrument).");
    if (light_.sheet.limit_seconds) {
      warn(
          "The lit sheet itself passes the standard's radiance for long viewing: shield it, or "
          "look "
          "at it briefly and through a blue-blocking filter.");
    }
    if (!light_.emitter) {
      warn(
          "Bare emitters and mirror reflections are far brighter than the lit sheet, and no "
          "radiance of "
          "the emitter was given; take it from its data sheet.");
    } else if (light_.emitter->limit_seconds) {
      warn(fmt::format(
          "The bare emitter passes the standard's radiance for long viewing: the limit is "
          "reached after {:.0f} s a day; shield it so that nobody sees it.",
          light_.emitter->limit_seconds->value));
    }
    if (light_.peak_nm < 400) {
      warn(
          "Part of this light may be ultraviolet, whose own hazards and doses are not among these "
          "figures.");
    }
    if (light_.width_nm > kWideBandNm) {
      doubt(
          fmt::format("A band {:g} nm wide is not of one colour: photons, lux and hazard hold for "
                      "narrow bands only.",
                      light_.width_nm));
    }
    if (!input_.width_nm) {
      warn("No width of the band was given: lux and hazard are those of the peak alone.");
    }
    if (input_.wet == false) {
      warn(
          "Sheets lit dry reverted more on ageing than sheets lit wet (Schaeffer et al., JAIC "
          "1992).");
    }
    warn(
        "No study of 450 to 460 nm LEDs on wet printed colour was found; of white LEDs, the bluer "
        "ones (6500 K) cut the paper's molar mass (Kirschner, Brückle, Henniges 2019).");
    if (const auto asked = question_irradiance(input_.w_per_m2)) doubt(*asked);
    if (light_.reach_j_per_cm2 && light_.j_per_cm2) {
      const auto asked = question("The earlier dose", *light_.reach_j_per_cm2, "this step's dose",
                                  light_.j_per_cm2->value, "J/cm²");
      if (asked) doubt(*asked);
    }
    constexpr double kLongest = 1000.0 * 3600;
    for (const double seconds :
         {input_.seconds.value_or(0), light_.reach_seconds ? light_.reach_seconds->value : 0}) {
      if (seconds > kLongest) {
        doubt(fmt::format("Is the unit right? {:.0f} h is more than 40 days of light.",
                          seconds / 3600));
      }
    }
  }

  const LightInput& input_;
  Light light_;
  double meter_ = 0;  ///< half range of the irradiance, as a share
};

}  // namespace

double photon_ev(double nm) {
  return kPlanck * kLightSpeed / (nm * 1e-9) / kElectron;
}

double photons_umol_per_j(double nm) {
  return 1e6 * nm * 1e-9 / (kPlanck * kLightSpeed * kAvogadro);
}

Light expose(const LightInput& input) {
  return Maker(input).make();
}

}  // namespace inkwane::bath
