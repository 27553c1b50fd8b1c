#include "bath/bath.hpp"

#include <memory>

#include <fmt/format.h>

#include "cli/advice.hpp"
#include "cli/command.hpp"

namespace inkwane::cli {
namespace {

struct Options {
  bath::BathInput input;
  bool saturated = false, json = false;
  std::string parts, method;
};

nlohmann::ordered_json to_json(const bath::Bath& bath) {
  auto out = start_json("bath");
  out["solution"] = bath.solution;
  out["temperature_c"] = number(bath.celsius);
  out["temperature_assumed"] = bath.celsius_assumed;
  set(out, "stock_g_per_l", bath.stock_g_per_l);
  out["stock_ml"] = number(bath.mixture.stock_ml);
  out["water_ml"] = number(bath.mixture.water_ml);
  out["tray_ml"] = number(bath.mixture.tray_ml);
  out["dilution"] = number(bath.mixture.factor);
  set(out, "g_per_l", bath.g_per_l);
  set(out, "mmol_per_l", bath.mmol_per_l);
  set(out, "tray_g", bath.tray_g);
  set(out, "saturation_g_per_l", bath.saturation_g_per_l);
  set(out, "calcium_mg_per_l", bath.calcium ? std::optional(bath.calcium->mg_per_l) : std::nullopt);
  set(out, "calcium_tray_mg", bath.calcium ? bath.calcium->tray_mg : std::nullopt);
  set(out, "ph", bath.ph.best());
  out["ph_basis"] = bath.ph.measured     ? nlohmann::ordered_json("measured")
                    : bath.ph.calculated ? nlohmann::ordered_json("calculated")
                                         : nlohmann::ordered_json(nullptr);
  set(out, "ph_measured", bath.ph.measured);
  set(out, "ph_calculated", bath.ph.calculated);
  set(out, "ph_of_stock_calculated", bath.ph.stock);
  out["usual_washing_ph"] = {bath::kUsualLeastPh, bath::kUsualMostPh};
  out["warnings"] = bath.warnings;
  out["cautions"] = bath.cautions;
  out["sources"] = bath.sources;
  out["doubtful"] = bath.doubtful;
  return out;
}

std::string mixture_text(const bath::Bath& bath) {
  const bath::Mixture& mixture = bath.mixture;
  if (!(mixture.factor > 1)) return "the stock as it is, undiluted";
  if (!mixture.tray_ml) {
    return fmt::format("1 part of stock to {:.4g} of water: {:.4g} times diluted",
                       mixture.factor - 1, mixture.factor);
  }
  return fmt::format(
      "{:.4g} mL of stock and {:.4g} mL of water, {:.4g} mL in the tray: {:.4g} times "
      "diluted",
      *mixture.stock_ml, *mixture.water_ml, *mixture.tray_ml, mixture.factor);
}

void print(const bath::Bath& bath) {
  fmt::print("A bath of {}{}\n\n", bath.solution,
             bath.celsius ? fmt::format(", at {:g} °C{}", *bath.celsius,
                                        bath.celsius_assumed ? " (assumed)" : "")
                          : "");
  print_line("stock", with_range(bath.stock_g_per_l, 3, "g/L"));
  print_line("mixture", mixture_text(bath));
  std::string strength = with_range(bath.g_per_l, 3, "g/L");
  if (bath.mmol_per_l) strength += "; " + with_range(*bath.mmol_per_l, 2, "mmol/L");
  print_line("in the tray", strength);
  if (bath.tray_g) print_line("dissolved in all", with_range(*bath.tray_g, 3, "g"));
  if (bath.calcium) {
    std::string text = with_range(bath.calcium->mg_per_l, 0, "mg/L (ppm)");
    if (bath.calcium->tray_mg) {
      text += "; in all " + with_range(*bath.calcium->tray_mg, 0, "mg") +
              ", of which the paper takes up a part";
    }
    print_line("calcium in the water", text);
  }
  if (bath.saturation_g_per_l) {
    print_line("saturated at", with_range(*bath.saturation_g_per_l, 2, "g/L; less when warmer"));
  }
  if (bath.ph.measured) print_line("pH, measured", with_range(*bath.ph.measured, 1));
  if (bath.ph.calculated) {
    print_line(bath.ph.measured ? "(pH, calculated)" : "pH, calculated",
               with_range(*bath.ph.calculated, 2));
  }
  if (!bath.ph.best()) print_line("pH", "not known; measure it");
  print_line("usual washing range",
             fmt::format("pH {:g} to {:g}", bath::kUsualLeastPh, bath::kUsualMostPh));
  print_list("Warnings", bath.warnings);
  print_list("Cautions", bath.cautions);
  print_list("Where the numbers come from", bath.sources);
}

ExitCode calculate(Options options, bool quiet) {
  bath::BathInput& input = options.input;
  if (!options.saturated && !input.stock_g_per_l) {
    throw Error(ExitCode::usage,
                "the stock's strength is missing; give --stock-g-per-l, or --stock-saturated for "
                "calcium hydroxide.");
  }
  if (!options.parts.empty()) input.parts = bath::read_parts(options.parts);
  if (!options.method.empty()) {
    input.ph_method = options.method == "meter" ? bath::PhMethod::meter : bath::PhMethod::strips;
  }
  const bath::Bath bath = bath::make_bath(input);
  if (options.json) {
    fmt::print("{}\n",
               to_json(bath).dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace));
  } else if (!quiet) {
    print(bath);
  }
  return bath.doubtful ? ExitCode::doubtful : ExitCode::done;
}

}  // namespace

void add_bath(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command =
      app.add_subcommand("bath", "What is in a bath: dilution, calcium, pH, and its cautions");
  const auto options = std::make_shared<Options>();
  bath::BathInput& input = options->input;
  command
      ->add_option("--solution", input.solution,
                   "What the stock is; only \"calcium hydroxide\" gets a calculated pH")
      ->required();
  auto* strength = command->add_option("--stock-g-per-l", input.stock_g_per_l,
                                       "The stock's concentration in g/L (1 % is 10 g/L)");
  command
      ->add_flag("--stock-saturated", options->saturated,
                 "The stock is a saturated solution at the bath's temperature")
      ->excludes(strength);
  command->add_option("--stock-percent", input.stock_percent,
                      "How far off the stock may be, ± % [8 for calcium hydroxide, else 5]");
  command->add_option("--stock-ml", input.stock_ml, "Stock taken, mL");
  command->add_option("--water-ml", input.water_ml, "Water added to it, mL");
  command->add_option("--tray-ml", input.tray_ml, "Everything in the tray, mL");
  command->add_option("--parts", options->parts,
                      "Parts of stock to parts of water, such as 1:3 (or 1+3)");
  command->add_option("--want-g-per-l", input.want_g_per_l,
                      "The concentration aimed at: how much stock it takes");
  command->add_option("--temperature-c", input.celsius, "Of the bath, °C");
  command->add_option("--measured-ph", input.measured_ph,
                      "pH measured in the tray; it goes before the calculated one");
  command->add_option("--ph-method", options->method, "How: meter or strips")
      ->check(CLI::IsMember({"meter", "strips"}));
  command->add_flag("--json", options->json, "Print JSON (docs/formats.md)");
  command->footer(
      "Example:\n  inkwane bath --solution \"calcium hydroxide\" --stock-g-per-l 1.6 --parts 1:3 "
      "--tray-ml 400 --temperature-c 20\n\n" +
      exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] { return calculate(*options, common.quiet); };
  });
}

}  // namespace inkwane::cli
