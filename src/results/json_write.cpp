#include "results/course_json.hpp"
#include "results/findings_json.hpp"
#include "results/pictures_json.hpp"
#include "results/record_json.hpp"
#include "results/results.hpp"

namespace inkwane::results {
namespace {

Json of(const Target& target) {
  Json out{{"found", true}};
  out["corners_px"] = Json::array();
  for (const Point& corner : target.corners_px) out["corners_px"].push_back(point(corner));
  out["model"] = target.model;
  out["patches"] = Json::array();
  for (const Patch& patch : target.patches) {
    out["patches"].push_back({{"id", patch.id},
                              {"reference_lab", lab(patch.reference_lab)},
                              {"fitted_lab", lab(patch.fitted_lab)},
                              {"left_out_dE00", number(patch.left_out_dE00)}});
  }
  out["left_out_dE00_median"] = number(target.left_out_dE00_median);
  out["left_out_dE00_p95"] = number(target.left_out_dE00_p95);
  out["left_out_dE00_max"] = number(target.left_out_dE00_max);
  return out;
}

Json of(const StrayLight& stray) {
  return {{"source", to_string(stray.source)},
          {"file", stray.file.empty() ? Json(nullptr) : Json(stray.file)},
          {"kappa", number(stray.kappa)},
          {"u_kappa", number(stray.u_kappa)},
          {"length_mm", number(stray.length_mm)},
          {"u_length_mm", number(stray.u_length_mm)}};
}

Json of(const Registration& registration) {
  return {{"to", registration.to},
          {"residual_mm_median", number(registration.residual_mm_median)},
          {"residual_mm_p95", number(registration.residual_mm_p95)},
          {"stretch_x", number(registration.stretch_x)},
          {"stretch_y", number(registration.stretch_y)}};
}

Json of(const Scan& scan) {
  return {
      {"stage", scan.stage},
      {"side", to_string(scan.side)},
      {"repeat", scan.repeat > 0 ? Json(scan.repeat) : Json(nullptr)},
      {"file", scan.file},
      {"sha256", scan.sha256},
      {"width_px", scan.width_px},
      {"height_px", scan.height_px},
      {"bit_depth", scan.bit_depth},
      {"resolution_dpi", number(scan.resolution_dpi)},
      {"profile", scan.profile},
      {"profile_sha256", scan.profile_sha256.empty() ? Json(nullptr) : Json(scan.profile_sha256)},
      {"target", scan.target ? of(*scan.target) : Json(nullptr)},
      {"registration", scan.registration ? of(*scan.registration) : Json(nullptr)},
      {"warnings", scan.warnings}};
}

Json of(const Repeatability& repeatability) {
  Json files = Json::array();
  for (const auto& [file, sha256] : repeatability.files)
    files.push_back({{"file", file}, {"sha256", sha256}});
  return {{"from", repeatability.from},
          {"u_dE00", number(repeatability.u_dE00)},
          {"degrees_of_freedom", repeatability.degrees_of_freedom},
          {"files", files}};
}

Json of(const RegionChange& change) {
  return {{"from", change.from},
          {"to", change.to},
          {"dE00", number(change.dE00)},
          {"dE00_ci95", interval(change.dE00_ci95)},
          {"detectable", change.detectable ? Json(*change.detectable) : Json(nullptr)},
          {"dL", number(change.dL)},
          {"da", number(change.da)},
          {"db", number(change.db)},
          {"dC", number(change.dC)},
          {"dH", number(change.dH)},
          {"strength_kept", number(change.strength_kept)},
          {"strength_kept_ci95", interval(change.strength_kept_ci95)},
          {"residual", number(change.residual)},
          {"residual_ci95", interval(change.residual_ci95)},
          {"contrast_dE00", number(change.contrast_dE00)},
          {"grey_scale", number(change.grey_scale)},
          {"warnings", change.warnings}};
}

Json of(const Region& region) {
  Json out{{"id", region.id},
           {"name", region.name},
           {"side", to_string(region.side)},
           {"role", to_string(region.role)},
           {"untouched", region.untouched},
           {"area_mm2", number(region.area_mm2)},
           {"under", region.under}};
  out["polygon"] = Json::array();
  for (const Point& corner : region.polygon) out["polygon"].push_back(point(corner));
  out["screens"] = Json::array();
  for (const Screen& screen : region.screens) {
    out["screens"].push_back({{"lpi", number(screen.lpi)},
                              {"angle_deg", number(screen.angle_deg)},
                              {"coverage", number(screen.coverage)}});
  }
  out["stages"] = Json::object();
  for (const auto& [id, stage] : region.stages) {
    out["stages"][id] = {{"lab", lab(stage.lab)}, {"u_lab", lab(stage.u_lab)}};
  }
  out["changes"] = Json::array();
  for (const RegionChange& change : region.changes) out["changes"].push_back(of(change));
  out["warnings"] = region.warnings;
  return out;
}

Json of(const ColourArea& area) {
  return {{"area_mm2", number(area.area_mm2)},
          {"share", number(area.share)},
          {"mean_dE00", number(area.mean_dE00)}};
}

Json of(const AreaAbove& above) {
  return {{"dE00", number(above.dE00)},
          {"area_mm2", number(above.area_mm2)},
          {"share", number(above.share)}};
}

/// A coloured area with the levels it reaches.
Json of(const ColourArea& area, const std::vector<AreaAbove>& above) {
  Json out = of(area);
  out["above"] = Json::array();
  for (const AreaAbove& level : above) out["above"].push_back(of(level));
  return out;
}

Json of(const SideChange& change) {
  Json out{{"from", change.from},
           {"to", change.to},
           {"sheet_mm2", number(change.sheet_mm2)},
           {"lost_ink",
            {{"area_mm2", number(change.lost_ink.area_mm2)},
             {"share", number(change.lost_ink.share)},
             {"mean_kept", number(change.lost_ink.mean_kept)}}},
           {"gained_colour", of(change.gained_colour, change.gained_above)}};
  if (change.bleed_through) {
    Json bleed = of(change.bleed_through->area, change.bleed_through->above);
    bleed["sources"] = Json::array();
    for (const Source& source : change.bleed_through->sources) {
      bleed["sources"].push_back({{"lab", lab(source.lab)}, {"share", number(source.share)}});
    }
    out["bleed_through"] = std::move(bleed);
  }
  out["warnings"] = change.warnings;
  return out;
}

Json of(const Map& map) {
  return {{"kind", map.kind},
          {"side", to_string(map.side)},
          {"from", map.from},
          {"to", map.to},
          {"png", map.png.empty() ? Json(nullptr) : Json(map.png)},
          {"tiff", map.tiff},
          {"unit", map.unit},
          {"pitch_px", number(map.pitch_px)},
          {"origin_px", point(map.origin_px)},
          {"plain", map.plain},
          {"overlay", map.overlay}};
}

Json of(const Object& object) {
  return {{"title", object.title},
          {"identifier", object.identifier},
          {"client", object.client},
          {"description", object.description},
          {"width_mm", number(object.width_mm)},
          {"height_mm", number(object.height_mm)}};
}

Json of(const Stage& stage) {
  Json out{{"id", stage.id}, {"date", stage.date}, {"note", stage.note}};
  out["steps"] = Json::array();
  for (const Step& step : stage.steps) {
    Json details = Json::object();
    for (const Detail& detail : step.details) details[detail.key] = value_of(detail);
    out["steps"].push_back({{"kind", step.kind}, {"details", details}});
  }
  return out;
}

template <typename Record>
Json list(const std::vector<Record>& records) {
  Json out = Json::array();
  for (const Record& record : records) out.push_back(of(record));
  return out;
}

}  // namespace

std::string to_string(StrayLight::Source source) {
  switch (source) {
    case StrayLight::Source::card:
      return "card";
    case StrayLight::Source::scans:
      return "scans";
    case StrayLight::Source::none:
      return "none";
  }
  return {};
}

std::string to_json(const Results& results) {
  Json out{{"inkwane", {{"format", 1}, {"version", results.version}}},
           {"treatment", {{"sha256", results.treatment_sha256}}},
           {"settings",
            {{"aperture_mm", number(results.aperture_mm)},
             {"grid_mm", number(results.grid_mm)},
             {"calibrated", results.calibrated},
             {"stray_light", of(results.stray_light)}}},
           {"doubtful", results.doubtful},
           {"warnings", results.warnings},
           {"object", of(results.object)},
           {"stages", list(results.stages)},
           {"record", record_to_json(results)},
           {"sheet",
            {{"turn", to_string(results.sheet.turn)},
             {"turn_seen",
              results.sheet.turn_seen ? Json(to_string(*results.sheet.turn_seen)) : Json(nullptr)},
             {"pairing_mm", number(results.sheet.pairing_mm)}}},
           {"repeatability", results.repeatability ? of(*results.repeatability) : Json(nullptr)},
           {"regions_stamp", stamp(results.regions_stamp)},
           {"scans", list(results.scans)},
           {"regions", list(results.regions)}};
  out["sides"] = Json::object();
  for (const auto& [side, result] : results.sides) {
    out["sides"][to_string(side)] = {{"changes", list(result.changes)}};
  }
  out["maps"] = list(results.maps);
  put_pictures(results, out);
  write_findings(results.findings, out);
  out["course"] = course_to_json(results.course);
  // File names may hold bytes that are not UTF-8; they are shown, not refused.
  return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace inkwane::results
