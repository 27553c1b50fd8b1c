#include "treatment/toml_table.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace inkwane::treatment {
namespace {

bool is_date(const std::string& text) {
  constexpr std::string_view form = "dddd-dd-dd";
  if (text.size() != form.size()) return false;
  for (std::size_t i = 0; i < form.size(); ++i) {
    const bool digit = text[i] >= '0' && text[i] <= '9';
    if (form[i] == 'd' ? !digit : text[i] != form[i]) return false;
  }
  const int month = std::stoi(text.substr(5, 2)), day = std::stoi(text.substr(8, 2));
  return month >= 1 && month <= 12 && day >= 1 && day <= 31;
}

}  // namespace

void Table::fail_at(int line, const std::string& what) const {
  throw Error(ExitCode::usage, fmt::format("{}, line {}: {}", file_->string(), line, what));
}

int Table::line_of(std::string_view key) const {
  const toml::node* node = table_->get(key);
  return node != nullptr ? static_cast<int>(node->source().begin.line) : line();
}

void Table::fail(std::string_view key, const std::string& what) const {
  fail_at(line_of(key), fmt::format("{} {}: {}", name_, key, what));
}

void Table::allow_only(const std::vector<std::string_view>& known) const {
  for (const auto& [key, value] : *table_) {
    if (std::find(known.begin(), known.end(), key.str()) == known.end()) {
      fail_at(static_cast<int>(key.source().begin.line),
              fmt::format("unknown key \"{}\" in {}; it knows {}.", key.str(), name_,
                          fmt::join(known, ", ")));
    }
  }
}

std::optional<std::string> Table::text(std::string_view key) const {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  const auto value = node->value_exact<std::string>();
  if (!value) fail(key, "must be a text in quotation marks.");
  return *value;
}

std::string Table::required_text(std::string_view key) const {
  const auto value = text(key);
  if (!value) fail_at(line(), fmt::format("{} lacks the key \"{}\"; add it.", name_, key));
  if (value->empty()) fail(key, "must not be empty.");
  return *value;
}

std::vector<std::string> Table::texts(std::string_view key, std::size_t fewest) const {
  const toml::node* node = find(key);
  if (node == nullptr) return {};
  const toml::array* array = node->as_array();
  if (array == nullptr && fewest <= 1) return {required_text(key)};
  if (array == nullptr || array->size() < fewest)
    fail(key, fmt::format("must be an array of at least {} texts, [\"…\", \"…\"].", fewest));
  std::vector<std::string> out;
  for (const toml::node& item : *array) {
    const auto value = item.value_exact<std::string>();
    if (!value || value->empty()) fail(key, "must hold texts in quotation marks, none empty.");
    if (std::find(out.begin(), out.end(), *value) != out.end())
      fail(key, fmt::format("names \"{}\" twice; name each once.", *value));
    out.push_back(*value);
  }
  return out;
}

std::optional<bool> Table::flag(std::string_view key) const {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  const auto value = node->value_exact<bool>();
  if (!value) fail(key, "must be true or false.");
  return *value;
}

std::optional<double> Table::number(std::string_view key, double low, double high) const {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  if (!node->is_number()) fail(key, "must be a number.");
  const double value = *node->value<double>();
  if (!std::isfinite(value) || value < low || value > high) {
    fail(key, fmt::format("{} is out of range; it must be from {} to {}.", value, low, high));
  }
  return value;
}

std::optional<int> Table::integer(std::string_view key, int low, int high) const {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  const auto value = node->value_exact<std::int64_t>();
  if (!value) fail(key, "must be a whole number.");
  if (*value < low || *value > high) {
    fail(key, fmt::format("{} is out of range; it must be from {} to {}.", *value, low, high));
  }
  return static_cast<int>(*value);
}

std::optional<std::string> Table::date(std::string_view key) const {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  if (const auto date = node->value_exact<toml::date>()) {
    return fmt::format("{:04}-{:02}-{:02}", date->year, static_cast<int>(date->month),
                       static_cast<int>(date->day));
  }
  const auto text = node->value_exact<std::string>();
  if (!text || !is_date(*text)) fail(key, "must be a date such as 2026-03-02.");
  return *text;
}

std::optional<std::string> Table::words(std::string_view key) const {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  if (const auto text = node->value_exact<std::string>()) return *text;
  if (node->is_number()) return fmt::format("{}", *node->value<double>());
  if (!node->is_date() && !node->is_date_time() && !node->is_time())
    fail(key, "must be a text, a number or a date.");
  std::ostringstream out;
  node->visit([&out](const auto& value) {
    if constexpr (toml::is_chronological<decltype(value)>) out << value.get();
  });
  return out.str();
}

std::optional<Table> Table::table(std::string_view key) const {
  const toml::node* node = find(key);
  if (node == nullptr) return std::nullopt;
  const toml::table* table = node->as_table();
  if (table == nullptr) fail(key, fmt::format("must be a table; write [{}] above its keys.", key));
  return Table(*table, fmt::format("[{}]", key), *file_);
}

std::vector<Table> Table::tables(std::string_view key, const std::string& name) const {
  std::vector<Table> out;
  const toml::node* node = find(key);
  if (node == nullptr) return out;
  const toml::array* array = node->as_array();
  if (array == nullptr) fail(key, fmt::format("must be written as {}, once for each.", name));
  for (const toml::node& item : *array) {
    const toml::table* table = item.as_table();
    if (table == nullptr) fail(key, fmt::format("must be written as {}, once for each.", name));
    out.emplace_back(*table, name, *file_);
  }
  return out;
}

}  // namespace inkwane::treatment
