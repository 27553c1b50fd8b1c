#include "bath/light.hpp"

#include <memory>

#include <fmt/format.h>

#include "cli/advice.hpp"
#include "cli/command.hpp"

namespace inkwane::cli {
namespace {

struct Options {
  bath::LightInput input;
  std::optional<double> minutes, hours, earlier_j_per_cm2, earlier_w_per_m2, earlier_hours;
  std::string sheet;
  bool json = false;
};

// The range of an earlier dose that was counted from W/m² and hours: the radiometer's usual ±10 %,
// common practice, no source.
constexpr double kEarlierPercent = 10;

std::string time_text(double seconds) {
  if (seconds < 3600) return fmt::format("{:.0f} min", seconds / 60);
  return fmt::format("{:.1f} h", seconds / 3600);
}

nlohmann::ordered_json to_json(const bath::Hazard& hazard) {
  nlohmann::ordered_json out;
  set(out, "w_per_m2_sr", hazard.w_per_m2_sr);
  set(out, "limit_seconds", hazard.limit_seconds);
  return out;
}

nlohmann::ordered_json to_json(const bath::Light& light) {
  auto out = start_json("light");
  set(out, "w_per_m2", light.w_per_m2);
  out["peak_nm"] = number(light.peak_nm);
  out["width_nm"] = number(light.width_nm);
  out["seconds"] = number(light.seconds);
  out["ev_per_photon"] = number(light.ev_per_photon);
  out["umol_per_j"] = number(light.umol_per_j);
  set(out, "umol_per_m2_s", light.umol_per_m2_s);
  set(out, "lux", light.lux);
  set(out, "j_per_cm2", light.j_per_cm2);
  set(out, "j_per_m2", light.j_per_m2);
  set(out, "mol_per_m2", light.mol_per_m2);
  set(out, "lux_hours", light.lux_hours);
  out["reach_j_per_cm2"] = number(light.reach_j_per_cm2);
  set(out, "reach_seconds", light.reach_seconds);
  out["blue_hazard"] = {
      {"reflectance", number(light.reflectance)},
      {"sheet", to_json(light.sheet)},
      {"emitter", light.emitter ? to_json(*light.emitter) : nlohmann::ordered_json(nullptr)}};
  out["warnings"] = light.warnings;
  out["cautions"] = light.cautions;
  out["sources"] = light.sources;
  out["doubtful"] = light.doubtful;
  return out;
}

std::string hazard_text(const bath::Hazard& hazard) {
  std::string text =
      with_range(hazard.w_per_m2_sr, hazard.w_per_m2_sr.value < 100 ? 1 : 0, "W/(m² sr)");
  if (hazard.limit_seconds) {
    return text + fmt::format(
                      ", above the standard's 100 for long viewing: its limit is reached after "
                      "{:.0f} s ({:.0f} to {:.0f}) a day",
                      hazard.limit_seconds->value, hazard.limit_seconds->low,
                      hazard.limit_seconds->high);
  }
  return text + ", below the standard's 100 for long viewing";
}

void print(const bath::Light& light) {
  fmt::print("Light of {:g} nm{} at the sheet\n\n", light.peak_nm,
             light.width_nm > 0 ? fmt::format(", {:g} nm wide,", light.width_nm) : "");
  print_line("irradiance", with_range(light.w_per_m2, 1, "W/m²"));
  if (light.j_per_cm2) {
    print_line("time", time_text(*light.seconds));
    print_line("dose", with_range(*light.j_per_cm2, 1, "J/cm²") + "; " +
                           with_range({light.j_per_m2->value / 1000, light.j_per_m2->low / 1000,
                                       light.j_per_m2->high / 1000},
                                      0, "kJ/m²"));
    print_line("photons", with_range(*light.mol_per_m2, 2, "mol/m²") +
                              fmt::format(" ({:.3f} eV each, {:.3f} µmol/J)", light.ev_per_photon,
                                          light.umol_per_j));
    print_line("for reference only",
               with_range(*light.lux_hours, 0, "lx·h") + "; " + with_range(light.lux, 0, "lx"));
  } else {
    print_line("photons", with_range(light.umol_per_m2_s, 0, "µmol/(m² s)") +
                              fmt::format(" ({:.3f} eV each, {:.3f} µmol/J)", light.ev_per_photon,
                                          light.umol_per_j));
    print_line("for reference only", with_range(light.lux, 0, "lx"));
  }
  if (light.reach_seconds) {
    print_line(
        "to repeat a dose",
        fmt::format("{:g} J/cm² takes {} ({} to {})", *light.reach_j_per_cm2,
                    time_text(light.reach_seconds->value), time_text(light.reach_seconds->low),
                    time_text(light.reach_seconds->high)));
  }
  print_line("blue-light hazard", fmt::format("sheet, reflecting {:.0f} %: {}",
                                              100 * light.reflectance, hazard_text(light.sheet)));
  if (light.emitter) print_line("", "bare emitter: " + hazard_text(*light.emitter));
  print_list("Warnings", light.warnings);
  print_list("Cautions", light.cautions);
  print_list("Where the numbers come from", light.sources);
}

ExitCode calculate(Options options, bool quiet) {
  bath::LightInput& input = options.input;
  if (options.minutes) input.seconds = 60 * *options.minutes;
  if (options.hours) input.seconds = 3600 * *options.hours;
  if (options.earlier_j_per_cm2) input.reach = {*options.earlier_j_per_cm2, 0};
  if (options.earlier_w_per_m2) {
    input.reach = {*options.earlier_w_per_m2 * 3600 * *options.earlier_hours * 1e-4,
                   kEarlierPercent};
  }
  if (!options.sheet.empty()) input.wet = options.sheet == "wet";
  const bath::Light light = bath::expose(input);
  if (options.json) {
    fmt::print("{}\n", to_json(light).dump(1));
  } else if (!quiet) {
    print(light);
  }
  return light.doubtful ? ExitCode::doubtful : ExitCode::done;
}

}  // namespace

void add_light(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command =
      app.add_subcommand("light", "An exposure to light: dose, photons, hazard to the eye");
  const auto options = std::make_shared<Options>();
  bath::LightInput& input = options->input;
  command->add_option("--w-per-m2", input.w_per_m2, "Irradiance at the sheet, W/m²")->required();
  command->add_option("--peak-nm", input.peak_nm, "The lamp's peak, nm")->required();
  command->add_option("--width-nm", input.width_nm, "Its full width at half maximum, nm");
  command->add_option("--meter-percent", input.meter_percent,
                      "How far off the radiometer may be, ± % [10]");
  auto* minutes = command->add_option("--minutes", options->minutes, "Time lit, min");
  command->add_option("--hours", options->hours, "Time lit, h")->excludes(minutes);
  auto* dose = command->add_option("--earlier-j-per-cm2", options->earlier_j_per_cm2,
                                   "Dose of an earlier step: how long to reach it, J/cm²");
  auto* earlier = command->add_option("--earlier-w-per-m2", options->earlier_w_per_m2,
                                      "The same from its irradiance, W/m², and hours");
  auto* earlier_hours =
      command->add_option("--earlier-hours", options->earlier_hours, "Time of the earlier step, h");
  earlier->needs(earlier_hours)->excludes(dose);
  earlier_hours->needs(earlier);
  command->add_option("--reflectance", input.reflectance,
                      "Of the sheet, 0 to 1, for the hazard of looking at it [0.8]");
  command->add_option("--emitter-w-per-m2-sr", input.emitter_w_per_m2_sr,
                      "Radiance of a bare emitter, from its data sheet, W/(m² sr)");
  command->add_option("--sheet", options->sheet, "Whether the sheet is lit wet or dry")
      ->check(CLI::IsMember({"wet", "dry"}));
  command->add_flag("--json", options->json, "Print JSON (docs/formats.md)");
  command->footer(
      "Example:\n  inkwane light --w-per-m2 50 --peak-nm 455 --width-nm 20 --hours 4 --sheet "
      "wet\n\n" +
      exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] { return calculate(*options, common.quiet); };
  });
}

}  // namespace inkwane::cli
