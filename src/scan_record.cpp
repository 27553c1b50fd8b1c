#include "scan_record.hpp"

#include <fmt/format.h>

#include "treatment/reminders.hpp"
#include "vet/stages.hpp"

namespace inkwane {
namespace {

// Of the sheet; above it the numbers are doubtful (docs/formats.md, exit code 1).
constexpr double kMuchClipped = 0.01;

void check_clipping(const Taken& taken, results::Scan& record, std::vector<std::string>& doubts) {
  const cv::Mat sheet = clear_sheet(taken);
  const double share = static_cast<double>(cv::countNonZero(taken.grid.clipped & sheet)) /
                       std::max(1, cv::countNonZero(sheet));
  if (share == 0) return;
  record.warnings.push_back(fmt::format(
      "{:.2g} % of the sheet is clipped (a channel at the end of its scale) and was not measured; "
      "scan with automatic exposure off and headroom at paper white.",
      100 * share));
  if (share > kMuchClipped) doubts.emplace_back("more than 1 % of the sheet is clipped.");
}

}  // namespace

cv::Mat clear_sheet(const Taken& taken) {
  return taken.outline.sheet & ~taken.grid.target;
}

results::Scan record_repeat(const Taken& taken) {
  results::Scan out;
  out.stage = taken.stage->id;
  out.side = taken.side;
  out.repeat = taken.repeat;
  out.file = taken.file();
  out.sha256 = taken.info.sha256;
  out.width_px = taken.info.width_px;
  out.height_px = taken.info.height_px;
  out.bit_depth = taken.info.bit_depth;
  out.resolution_dpi = taken.resolution_dpi;
  out.profile = taken.profile;
  out.profile_sha256 = taken.profile_sha256;
  out.target = taken.target;
  out.registration = taken.registration;
  out.warnings = taken.warnings;
  if (const auto damp = treatment::not_dry(*taken.stage)) out.warnings.push_back(*damp);
  return out;
}

results::Scan record_scan(const Taken& taken, const align::Warp* warp,
                          const std::string& first_stage, double pitch_mm,
                          std::vector<std::string>& doubts) {
  results::Scan out = record_repeat(taken);
  doubts = taken.doubts;
  if (warp != nullptr) {
    out.registration = {first_stage, warp->residual_mm_median, warp->residual_mm_p95,
                        warp->stretch_x, warp->stretch_y};
    out.warnings.insert(out.warnings.end(), warp->warnings.begin(), warp->warnings.end());
    vet::warn(vet::judge_shape(*warp, pitch_mm, {first_stage, taken.stage->id, taken.file()}),
              out.warnings, doubts);
  }
  check_clipping(taken, out, doubts);
  if (warp != nullptr && warp->doubtful) {
    doubts.push_back(
        fmt::format("the alignment is uncertain ({:.2f} mm at the 95th percentile, more than 0.3 "
                    "mm); give control points.",
                    warp->residual_mm_p95));
  }
  return out;
}

std::string name_of(const Taken& taken) {
  const std::string name = fmt::format("{} {}", taken.stage->id, to_string(taken.side));
  return taken.repeat > 1 ? fmt::format("{}, repeat {}", name, taken.repeat) : name;
}

}  // namespace inkwane
