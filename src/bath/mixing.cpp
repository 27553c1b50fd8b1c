#include "bath/mixing.hpp"

#include <charconv>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "bath/slips.hpp"

namespace inkwane::bath {
namespace {

[[noreturn]] void refuse(const std::string& sentence) {
  throw Error(ExitCode::usage, sentence);
}

void check_positive(const std::optional<double>& value, const char* name, const char* unit) {
  if (value && !(std::isfinite(*value) && *value > 0)) {
    refuse(
        fmt::format("{} of {:g} {} is not above 0; give what was measured.", name, *value, unit));
  }
}

/// Where a refusal comes from a slip of units, it says so.
std::string hint(const char* name, double value, const char* other_name, double other,
                 const char* unit) {
  const auto question = bath::question(name, value, other_name, other, unit);
  return question ? " " + *question : "";
}

Mixture from_volumes(const MixingInput& input) {
  const double stock = *input.stock_ml;
  if (input.water_ml && input.tray_ml) {
    refuse("both the water and the whole tray were given; give one of them, the other follows.");
  }
  if (!input.water_ml && !input.tray_ml) {
    refuse(
        "the stock volume alone says nothing of the dilution; give the water or the whole tray "
        "as well.");
  }
  const double tray = input.tray_ml ? *input.tray_ml : stock + *input.water_ml;
  if (stock > tray) {
    refuse(
        fmt::format("{:g} mL of stock do not fit in a tray of {:g} mL in all; the tray's volume "
                    "is stock and water together.{}",
                    stock, tray, hint("The stock volume", stock, "the tray volume", tray, "mL")));
  }
  return {tray / stock, 0, stock, tray - stock, tray};
}

Mixture from_factor(double factor, const std::optional<double>& tray) {
  Mixture out;
  out.factor = factor;
  if (tray) {
    out.tray_ml = tray;
    out.stock_ml = *tray / factor;
    out.water_ml = *tray - *tray / factor;
  }
  return out;
}

}  // namespace

Mixture mix(const MixingInput& input) {
  check_positive(input.stock_g_per_l, "the stock's concentration", "g/L");
  check_positive(input.stock_ml, "the stock volume", "mL");
  check_positive(input.water_ml, "the water volume", "mL");
  check_positive(input.tray_ml, "the tray volume", "mL");
  check_positive(input.want_g_per_l, "the concentration aimed at", "g/L");
  const int ways = static_cast<int>(input.stock_ml.has_value()) +
                   static_cast<int>(input.parts.has_value()) +
                   static_cast<int>(input.want_g_per_l.has_value());
  if (ways > 1) {
    refuse(
        "the dilution was given in more than one way; give the stock volume, or the parts, or "
        "the concentration aimed at.");
  }
  if (!input.stock_ml && input.water_ml) {
    refuse("the water volume needs the stock volume beside it; give both, or the parts.");
  }
  Mixture out;
  if (input.stock_ml) {
    out = from_volumes(input);
  } else if (input.want_g_per_l) {
    if (*input.want_g_per_l > input.stock_g_per_l) {
      refuse(
          fmt::format("a bath of {:g} g/L cannot be made from a stock of {:g} g/L by adding "
                      "water; take a stronger stock.{}",
                      *input.want_g_per_l, input.stock_g_per_l,
                      hint("The concentration aimed at", *input.want_g_per_l, "the stock",
                           input.stock_g_per_l, "g/L")));
    }
    out = from_factor(input.stock_g_per_l / *input.want_g_per_l, input.tray_ml);
  } else if (input.parts) {
    out =
        from_factor((input.parts->first + input.parts->second) / input.parts->first, input.tray_ml);
  } else {
    out = from_factor(1, input.tray_ml);
  }
  out.g_per_l = input.stock_g_per_l / out.factor;
  return out;
}

std::pair<double, double> read_parts(const std::string& text) {
  const auto number = [](std::string_view part) {
    double value = 0;
    const auto [rest, error] = std::from_chars(part.data(), part.data() + part.size(), value);
    const bool whole = error == std::errc() && rest == part.data() + part.size();
    return whole && std::isfinite(value) ? value : -1;
  };
  const auto sign = text.find_first_of(":+");
  const std::string_view all = text;
  const double stock = number(all.substr(0, sign));
  const double water = sign == std::string::npos ? -1 : number(all.substr(sign + 1));
  if (!(stock > 0) || !(water >= 0)) {
    refuse(
        fmt::format("parts \"{}\" cannot be read; write parts of stock, a colon and parts of "
                    "water, such as 1:3.",
                    text));
  }
  return {stock, water};
}

}  // namespace inkwane::bath
