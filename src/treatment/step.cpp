#include "treatment/step.hpp"

#include <algorithm>
#include <array>
#include <limits>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace inkwane {
namespace {

using treatment::Table;

// Sets of keys that a kind of step may have, beyond those that all have.
constexpr unsigned kAll = 1, kLiquid = 2, kLight = 4, kBlotting = 8, kEvery = 15;

struct Kind {
  std::string_view name;
  unsigned keys;
};

constexpr std::array<Kind, 10> kKinds{{{"dry cleaning", kAll},
                                       {"tape removal", kAll | kLiquid},
                                       {"bath", kAll | kLiquid},
                                       {"rinse", kAll | kLiquid},
                                       {"blotting", kAll | kBlotting},
                                       {"light", kAll | kLiquid | kLight},
                                       {"deacidification", kAll | kLiquid},
                                       {"drying", kAll | kBlotting},
                                       {"repair", kAll},
                                       {"other", kEvery}}};

enum class Form { words, number, whole, choice };

struct Key {
  std::string_view name;
  unsigned set;
  Form form;
  std::string_view label, unit;
  double low = 0, high = std::numeric_limits<double>::max();
  std::array<std::string_view, 2> choices{};
};

constexpr std::array<Key, 30> kKeys{{
    {"when", kAll, Form::words, "when", ""},
    {"who", kAll, Form::words, "who", ""},
    {"solution", kAll, Form::words, "solution", ""},
    {"lot", kAll, Form::words, "reagent and lot", ""},
    {"stock_g_per_l", kLiquid, Form::number, "strength of the stock", "g/L"},
    {"stock_ml", kLiquid, Form::number, "stock", "mL"},
    {"water_ml", kLiquid, Form::number, "water", "mL"},
    {"parts", kLiquid, Form::words, "parts of stock to water", ""},
    {"tray_ml", kLiquid, Form::number, "in the tray", "mL"},
    {"temperature_c", kLiquid, Form::number, "temperature", "°C", -20, 100},
    {"ph_in", kLiquid, Form::number, "pH at the start", "", 0, 14},
    {"ph_out", kLiquid, Form::number, "pH at the end", "", 0, 14},
    {"ph_method", kLiquid, Form::choice, "pH measured by", "", 0, 0, {"meter", "strips"}},
    {"changes", kLiquid, Form::whole, "changes of the liquid", ""},
    {"agitation", kLiquid, Form::words, "agitation", ""},
    {"source", kLight, Form::words, "source of light", ""},
    {"peak_nm", kLight, Form::number, "peak", "nm", 200, 3000},
    {"width_nm", kLight, Form::number, "width of the band", "nm", 0, 3000},
    {"w_per_m2", kLight, Form::number, "at the sheet", "W/m²"},
    {"distance_mm", kLight, Form::number, "distance", "mm"},
    {"sheet", kLight, Form::choice, "sheet", "", 0, 0, {"wet", "dry"}},
    {"places", kBlotting, Form::words, "places", ""},
    {"number", kBlotting, Form::whole, "number of blotters", ""},
    {"dwell_minutes", kBlotting, Form::number, "dwell", "min"},
    {"minutes", kAll, Form::number, "time", "min"},
    {"area_cm2", kAll, Form::number, "area treated", "cm²"},
    {"materials_added", kAll, Form::words, "materials added", ""},
    {"materials_removed", kAll, Form::words, "materials removed", ""},
    {"seen", kAll, Form::words, "seen", ""},
    {"note", kAll, Form::words, "note", ""},
}};

Detail read_detail(const Table& table, const Key& key) {
  Detail detail{std::string(key.name), {}};
  switch (key.form) {
    case Form::words:
      detail.value = *table.words(key.name);
      break;
    case Form::number:
      detail.value = *table.number(key.name, key.low, key.high);
      break;
    case Form::whole:
      detail.value =
          static_cast<double>(*table.integer(key.name, 0, std::numeric_limits<int>::max()));
      break;
    case Form::choice: {
      const std::string text = *table.text(key.name);
      if (std::find(key.choices.begin(), key.choices.end(), text) == key.choices.end()) {
        table.fail(key.name, fmt::format("\"{}\" is not known; it must be \"{}\" or \"{}\".", text,
                                         key.choices[0], key.choices[1]));
      }
      detail.value = text;
      break;
    }
  }
  return detail;
}

const Detail* find(const Step& step, std::string_view key) {
  const auto found = std::find_if(step.details.begin(), step.details.end(),
                                  [key](const Detail& detail) { return detail.key == key; });
  return found == step.details.end() ? nullptr : &*found;
}

}  // namespace

std::optional<double> Step::number(std::string_view key) const {
  const Detail* detail = find(*this, key);
  const double* value = detail == nullptr ? nullptr : std::get_if<double>(&detail->value);
  return value == nullptr ? std::nullopt : std::optional(*value);
}

std::optional<std::string> Step::text(std::string_view key) const {
  const Detail* detail = find(*this, key);
  const auto* value = detail == nullptr ? nullptr : std::get_if<std::string>(&detail->value);
  return value == nullptr ? std::nullopt : std::optional(*value);
}

std::optional<double> dose_j_per_cm2(const Step& step) {
  const auto irradiance = step.number("w_per_m2"), minutes = step.number("minutes");
  if (!irradiance || !minutes) return std::nullopt;
  return *irradiance * *minutes * 60 * 1e-4;
}

std::pair<std::string, std::string> in_words(const Detail& detail) {
  const auto* number = std::get_if<double>(&detail.value);
  std::string value =
      number != nullptr ? fmt::format("{:g}", *number) : std::get<std::string>(detail.value);
  const auto key = std::find_if(kKeys.begin(), kKeys.end(),
                                [&detail](const Key& k) { return k.name == detail.key; });
  if (key == kKeys.end()) return {detail.key, value};
  if (!key->unit.empty()) value += fmt::format(" {}", key->unit);
  return {std::string(key->label), value};
}

namespace treatment {

Step read_step(const Table& table) {
  Step step;
  step.kind = table.required_text("kind");
  const auto kind = std::find_if(kKinds.begin(), kKinds.end(),
                                 [&step](const Kind& k) { return k.name == step.kind; });
  if (kind == kKinds.end()) {
    std::vector<std::string_view> names;
    for (const Kind& known : kKinds) names.push_back(known.name);
    table.fail("kind", fmt::format("\"{}\" is not known; it must be one of {}.", step.kind,
                                   fmt::join(names, ", ")));
  }
  std::vector<std::string_view> allowed{"kind"};
  for (const Key& key : kKeys) {
    if ((key.set & kind->keys) != 0) allowed.push_back(key.name);
  }
  table.allow_only(allowed);
  for (const Key& key : kKeys) {
    if (table.find(key.name) != nullptr) step.details.push_back(read_detail(table, key));
  }
  return step;
}

bool is_wet(const Step& step) {
  return step.kind == "bath" || step.kind == "rinse" || step.kind == "deacidification" ||
         (step.kind == "light" && step.text("sheet") == "wet");
}

}  // namespace treatment
}  // namespace inkwane
