#include "results/csv_row.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace inkwane::results {

std::string CsvRow::field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

std::string CsvRow::field(const Number& value) {
  return value ? fmt::format("{:.7g}", *value) : "";
}

std::string CsvRow::text() const {
  return fmt::format("{}\r\n", fmt::join(fields_, ","));
}

}  // namespace inkwane::results
