#include <fmt/format.h>
#include <fmt/ranges.h>

#include "results/results.hpp"

namespace inkwane::results {
namespace {

/// RFC 4180: a field with a comma, a quotation mark or a line break stands in quotation marks.
std::string field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

std::string field(const Number& value) {
  return value ? fmt::format("{:.7g}", *value) : "";
}

class Row {
 public:
  template <typename... Fields>
  Row& add(const Fields&... fields) {
    (fields_.push_back(field(fields)), ...);
    return *this;
  }
  Row& add_lab(const LabD50& lab) { return add(Number(lab.L), Number(lab.a), Number(lab.b)); }
  Row& add_interval(const Interval& ends) {
    return ends ? add(Number((*ends)[0]), Number((*ends)[1])) : add(Number(), Number());
  }
  [[nodiscard]] std::string text() const { return fmt::format("{}\r\n", fmt::join(fields_, ",")); }

 private:
  std::vector<std::string> fields_;
};

constexpr const char* kHeader =
    "id,name,side,role,area_mm2,from,to,from_L,from_a,from_b,from_u_L,from_u_a,from_u_b,to_L,to_a,"
    "to_b,to_u_L,to_u_a,to_u_b,dE00,dE00_low95,dE00_high95,detectable,dL,da,db,dC,dH,strength_kept,"
    "strength_kept_low95,strength_kept_high95,residual,residual_low95,residual_high95,"
    "contrast_dE00,calibrated,warnings\r\n";

void add_stage(Row& row, const Region& region, const std::string& id) {
  for (const auto& [stage, colour] : region.stages) {
    if (stage == id) {
      row.add_lab(colour.lab).add_lab(colour.u_lab);
      return;
    }
  }
  row.add(Number(), Number(), Number(), Number(), Number(), Number());
}

std::string of(const Region& region, const RegionChange& change, bool calibrated) {
  std::vector<std::string> warnings = region.warnings;
  warnings.insert(warnings.end(), change.warnings.begin(), change.warnings.end());
  Row row;
  row.add(region.id, region.name, to_string(region.side), to_string(region.role),
          Number(region.area_mm2), change.from, change.to);
  add_stage(row, region, change.from);
  add_stage(row, region, change.to);
  row.add(change.dE00).add_interval(change.dE00_ci95);
  row.add(std::string(change.detectable ? (*change.detectable ? "yes" : "no") : ""));
  row.add(change.dL, change.da, change.db, change.dC, change.dH);
  row.add(change.strength_kept).add_interval(change.strength_kept_ci95);
  row.add(change.residual).add_interval(change.residual_ci95);
  row.add(change.contrast_dE00, std::string(calibrated ? "yes" : "uncalibrated"),
          fmt::format("{}", fmt::join(warnings, " ")));
  return row.text();
}

}  // namespace

std::string to_csv(const Results& results) {
  std::string text = kHeader;
  for (const Region& region : results.regions) {
    for (const RegionChange& change : region.changes) {
      text += of(region, change, results.calibrated);
    }
    if (!region.changes.empty()) continue;
    // One stage alone: the colours, and no change.
    for (const auto& [id, colour] : region.stages) {
      RegionChange none;
      none.from = id;
      text += of(region, none, results.calibrated);
    }
  }
  return text;
}

}  // namespace inkwane::results
