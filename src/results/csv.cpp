#include <algorithm>
#include <string_view>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "results/collection_csv.hpp"
#include "results/csv_row.hpp"
#include "results/results.hpp"

namespace inkwane::results {
namespace {

constexpr const char* kCollectionHeader =
    "treatment,assessment,treatment_sha256,title,identifier,exit_code,error,";
constexpr const char* kHeader =
    "id,name,side,role,area_mm2,from,to,from_L,from_a,from_b,from_u_L,from_u_a,from_u_b,to_L,to_a,"
    "to_b,to_u_L,to_u_a,to_u_b,dE00,dE00_low95,dE00_high95,detectable,dL,da,db,dC,dH,strength_kept,"
    "strength_kept_low95,strength_kept_high95,residual,residual_low95,residual_high95,"
    "contrast_dE00,calibrated,warnings\r\n";

void add_stage(CsvRow& row, const Region& region, const std::string& id) {
  for (const auto& [stage, colour] : region.stages) {
    if (stage == id) {
      row.add_lab(colour.lab).add_lab(colour.u_lab);
      return;
    }
  }
  row.add(Number(), Number(), Number(), Number(), Number(), Number());
}

/// `row`: what stands before the region's own columns.
std::string of(CsvRow row, const Region& region, const RegionChange& change, bool calibrated) {
  std::vector<std::string> warnings = region.warnings;
  warnings.insert(warnings.end(), change.warnings.begin(), change.warnings.end());
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

std::string rows(const CsvRow& before, const Results& results) {
  std::string text;
  for (const Region& region : results.regions) {
    for (const RegionChange& change : region.changes) {
      text += of(before, region, change, results.calibrated);
    }
    if (!region.changes.empty()) continue;
    // One stage alone: the colours, and no change.
    for (const auto& [id, colour] : region.stages) {
      RegionChange none;
      none.from = id;
      text += of(before, region, none, results.calibrated);
    }
  }
  return text;
}

}  // namespace

std::string to_csv(const Results& results) {
  return kHeader + rows({}, results);
}

std::string collection_heading() {
  return std::string(kCollectionHeader) + kHeader;
}

std::string collection_rows(const Collected& one) {
  const Results none;
  const Results& results = one.results ? *one.results : none;
  CsvRow row;
  row.add(one.treatment, one.assessment, results.treatment_sha256, results.object.title,
          results.object.identifier, Number(static_cast<int>(one.code)), one.error);
  const std::string text = rows(row, results);
  if (!text.empty()) return text;
  const std::string_view header = kHeader;
  for (auto left = std::count(header.begin(), header.end(), ',') + 1; left > 0; --left) {
    row.add(std::string());
  }
  return row.text();
}

}  // namespace inkwane::results
