// One row of a table after RFC 4180.
#pragma once

#include <string>
#include <vector>

#include <inkwane/results.hpp>

namespace inkwane::results {

/// Fields in order; a field with a comma, a quotation mark or a line break stands in quotation
/// marks, a number that could not be had is empty.
class CsvRow {
 public:
  template <typename... Fields>
  CsvRow& add(const Fields&... fields) {
    (fields_.push_back(field(fields)), ...);
    return *this;
  }
  CsvRow& add_lab(const LabD50& lab) { return add(Number(lab.L), Number(lab.a), Number(lab.b)); }
  CsvRow& add_interval(const Interval& ends) {
    return ends ? add(Number((*ends)[0]), Number((*ends)[1])) : add(Number(), Number());
  }
  [[nodiscard]] std::string text() const;  ///< with its line end

 private:
  std::vector<std::string> fields_;
  static std::string field(const std::string& text);
  static std::string field(const Number& value);
};

}  // namespace inkwane::results
