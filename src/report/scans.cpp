#include <filesystem>

#include "report/view.hpp"

namespace inkwane::report {

data scan_view(const results::Results& results) {
  data scans(data::type::list);
  for (const results::Scan& scan : results.scans) {
    data row;
    row.set("stage", scan.stage);
    set_side(row, scan.side);
    row.set("file", scan.file);
    row.set("sha256", scan.sha256);
    row.set("width", std::to_string(scan.width_px));
    row.set("height", std::to_string(scan.height_px));
    row.set("depth", std::to_string(scan.bit_depth));
    row.set("dpi", decimal(scan.resolution_dpi, 0));
    row.set("no_profile", scan.profile.empty() || scan.profile == "none");
    row.set("profile", scan.profile);
    const auto& target = scan.target;
    row.set("target", target.has_value());
    row.set("model", target ? data(target->model) : data(false));
    const auto left_out = [&](double results::Target::*figure) {
      return number(target ? results::Number((*target).*figure) : std::nullopt, 2);
    };
    row.set("median", left_out(&results::Target::left_out_dE00_median));
    row.set("p95", left_out(&results::Target::left_out_dE00_p95));
    row.set("max", left_out(&results::Target::left_out_dE00_max));
    const auto& registration = scan.registration;
    row.set("registered", registration.has_value());
    row.set("to", registration ? data(registration->to) : data(false));
    const auto fitted = [&](const results::Number& figure, int decimals) {
      return number(registration ? figure : std::nullopt, decimals);
    };
    const results::Registration none;
    const results::Registration& lying = registration ? *registration : none;
    row.set("residual_median", fitted(lying.residual_mm_median, 3));
    row.set("residual_p95", fitted(lying.residual_mm_p95, 3));
    row.set("stretch_x", fitted(lying.stretch_x, 4));
    row.set("stretch_y", fitted(lying.stretch_y, 4));
    row.set("any_warnings", !scan.warnings.empty());
    row.set("warnings", list_of(scan.warnings));
    scans.push_back(row);
  }
  return scans;
}

}  // namespace inkwane::report
