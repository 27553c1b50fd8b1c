#include "report/words.hpp"

#include <map>
#include <stdexcept>

#include <toml++/toml.h>

#include "report/parts.hpp"

namespace inkwane::report {
namespace {

const toml::table& words() {
  static const toml::table table = toml::parse(part("en.toml"));
  return table;
}

std::map<std::string, std::string, std::less<>> flatten() {
  std::map<std::string, std::string, std::less<>> all;
  for (const auto& [section, entries] : words()) {
    for (const auto& [name, value] : *entries.as_table()) {
      if (const auto text = value.value<std::string>())
        all.emplace(fmt::format("{}.{}", section.str(), name.str()), *text);
    }
  }
  return all;
}

const std::map<std::string, std::string, std::less<>>& sentences() {
  static const auto all = flatten();
  return all;
}

}  // namespace

bool says(std::string_view key) {
  return sentences().contains(key);
}

const std::string& say(std::string_view key) {
  const auto found = sentences().find(key);
  if (found == sentences().end())
    throw std::logic_error(fmt::format("the report has no words for {}", key));
  return found->second;
}

std::vector<std::vector<std::string>> say_rows(std::string_view key) {
  std::vector<std::vector<std::string>> rows;
  const toml::array* lists = words().at_path(key).as_array();
  if (lists == nullptr) throw std::logic_error(fmt::format("the report has no rows for {}", key));
  for (const toml::node& list : *lists) {
    rows.emplace_back();
    for (const toml::node& text : *list.as_array())
      rows.back().push_back(text.value_or<std::string>(""));
  }
  return rows;
}

std::vector<std::string> all_keys() {
  std::vector<std::string> keys;
  for (const auto& [key, text] : sentences()) keys.push_back(key);
  return keys;
}

}  // namespace inkwane::report
