#include "cli/advice.hpp"

#include <cmath>
#include <cstdlib>
#include <sstream>

#include <fmt/format.h>

#include "cli/table.hpp"

namespace inkwane::cli {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kWidth = 92, kLabel = 24;

/// `text` in lines of kWidth, all but the first indented.
std::string wrap(const std::string& text, std::size_t indent) {
  std::istringstream words(text);
  std::string out, word;
  std::size_t column = indent;
  while (words >> word) {
    // A percent sign stays with its number.
    if (!out.empty() && column + 1 + length(word) > kWidth && word[0] != '%') {
      out += "\n" + std::string(indent, ' ');
      column = indent;
    } else if (!out.empty()) {
      out += ' ';
      ++column;
    }
    out += word;
    column += length(word);
  }
  return out;
}

Json rounded(double value) {
  if (!std::isfinite(value)) return nullptr;
  return std::strtod(fmt::format("{:.5g}", value).c_str(), nullptr);
}

}  // namespace

std::string with_range(const bath::Estimate& estimate, int decimals, const std::string& unit) {
  return fmt::format("{:.{}f} ({:.{}f} to {:.{}f}){}{}", estimate.value, decimals, estimate.low,
                     decimals, estimate.high, decimals, unit.empty() ? "" : " ", unit);
}

void print_line(const std::string& label, const std::string& text) {
  const std::string gap(length(label) < kLabel ? kLabel - length(label) : 1, ' ');
  fmt::print("  {}{}{}\n", label, gap, wrap(text, kLabel + 2));
}

void print_list(const std::string& heading, const std::vector<std::string>& sentences) {
  if (sentences.empty()) return;
  fmt::print("\n{}\n", heading);
  for (const std::string& sentence : sentences) fmt::print("  – {}\n", wrap(sentence, 4));
}

void set(Json& object, const std::string& name, const std::optional<bath::Estimate>& estimate) {
  object[name] = estimate ? rounded(estimate->value) : Json(nullptr);
  object[name + "_ci95"] =
      estimate ? Json{rounded(estimate->low), rounded(estimate->high)} : Json(nullptr);
}

Json number(const std::optional<double>& value) {
  return value ? rounded(*value) : Json(nullptr);
}

Json start_json(const std::string& command) {
  return {{"inkwane", {{"format", 1}, {"version", INKWANE_VERSION}}}, {"command", command}};
}

}  // namespace inkwane::cli
