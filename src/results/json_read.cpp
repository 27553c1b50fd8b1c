#include <algorithm>
#include <fstream>
#include <iterator>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "results/course_json.hpp"
#include "results/findings_json.hpp"
#include "results/pictures_json.hpp"
#include "results/record_json.hpp"
#include "results/results.hpp"

namespace inkwane::results {
namespace {

Turn turn(const Json& json) {
  return json.get<std::string>() == "top" ? Turn::top : Turn::side;
}

std::vector<std::string> warnings(const Json& json) {
  return json.at("warnings").get<std::vector<std::string>>();
}

Target target(const Json& json) {
  Target out;
  for (std::size_t i = 0; i < 4; ++i) out.corners_px[i] = point_of(json.at("corners_px").at(i));
  out.model = json.at("model").get<std::string>();
  for (const Json& patch : json.at("patches")) {
    out.patches.push_back({patch.at("id").get<std::string>(), lab_of(patch.at("reference_lab")),
                           lab_of(patch.at("fitted_lab")),
                           patch.at("left_out_dE00").get<double>()});
  }
  out.left_out_dE00_median = json.at("left_out_dE00_median").get<double>();
  out.left_out_dE00_p95 = json.at("left_out_dE00_p95").get<double>();
  out.left_out_dE00_max = json.at("left_out_dE00_max").get<double>();
  return out;
}

StrayLight stray_light(const Json& json) {
  StrayLight out;
  const auto source = json.at("source").get<std::string>();
  for (const auto known :
       {StrayLight::Source::card, StrayLight::Source::scans, StrayLight::Source::none}) {
    if (to_string(known) == source) out.source = known;
  }
  if (!json.at("file").is_null()) out.file = json.at("file").get<std::string>();
  out.kappa = json.at("kappa").get<double>();
  out.u_kappa = json.at("u_kappa").get<double>();
  out.length_mm = json.at("length_mm").get<double>();
  out.u_length_mm = json.at("u_length_mm").get<double>();
  return out;
}

Scan scan(const Json& json) {
  Scan out;
  out.stage = json.at("stage").get<std::string>();
  out.side = side_of(json.at("side"));
  out.file = json.at("file").get<std::string>();
  out.sha256 = json.at("sha256").get<std::string>();
  out.width_px = json.at("width_px").get<int>();
  out.height_px = json.at("height_px").get<int>();
  out.bit_depth = json.at("bit_depth").get<int>();
  out.resolution_dpi = json.at("resolution_dpi").get<double>();
  out.profile = json.at("profile").get<std::string>();
  out.profile_sha256 =
      json.at("profile_sha256").is_null() ? "" : json.at("profile_sha256").get<std::string>();
  out.repeat = json.at("repeat").is_null() ? 0 : json.at("repeat").get<int>();
  if (!json.at("target").is_null()) out.target = target(json.at("target"));
  if (const Json& r = json.at("registration"); !r.is_null()) {
    out.registration = {r.at("to").get<std::string>(), number_of(r.at("residual_mm_median")),
                        number_of(r.at("residual_mm_p95")), r.at("stretch_x").get<double>(),
                        r.at("stretch_y").get<double>()};
  }
  out.warnings = warnings(json);
  return out;
}

RegionChange region_change(const Json& json) {
  RegionChange out;
  out.from = json.at("from").get<std::string>();
  out.to = json.at("to").get<std::string>();
  out.dE00 = number_of(json.at("dE00"));
  out.dE00_ci95 = interval_of(json.at("dE00_ci95"));
  if (!json.at("detectable").is_null()) out.detectable = json.at("detectable").get<bool>();
  out.dL = number_of(json.at("dL"));
  out.da = number_of(json.at("da"));
  out.db = number_of(json.at("db"));
  out.dC = number_of(json.at("dC"));
  out.dH = number_of(json.at("dH"));
  out.strength_kept = number_of(json.at("strength_kept"));
  out.strength_kept_ci95 = interval_of(json.at("strength_kept_ci95"));
  out.residual = number_of(json.at("residual"));
  out.residual_ci95 = interval_of(json.at("residual_ci95"));
  out.contrast_dE00 = number_of(json.at("contrast_dE00"));
  out.grey_scale = number_of(json.at("grey_scale"));
  out.warnings = warnings(json);
  return out;
}

Region region(const Json& json) {
  Region out;
  out.id = json.at("id").get<std::string>();
  out.name = json.at("name").get<std::string>();
  out.side = side_of(json.at("side"));
  out.role = role_of(json.at("role"));
  out.untouched = json.at("untouched").get<bool>();
  out.area_mm2 = json.at("area_mm2").get<double>();
  json.at("under").get_to(out.under);
  for (const Json& corner : json.at("polygon")) out.polygon.push_back(point_of(corner));
  if (json.contains("screens")) {
    for (const Json& screen : json.at("screens")) {
      out.screens.push_back({screen.at("lpi").get<double>(), screen.at("angle_deg").get<double>(),
                             number_of(screen.at("coverage"))});
    }
  }
  for (const auto& [id, stage] : json.at("stages").items()) {
    out.stages.emplace_back(id, RegionStage{lab_of(stage.at("lab")), lab_of(stage.at("u_lab"))});
  }
  for (const Json& change : json.at("changes")) out.changes.push_back(region_change(change));
  out.warnings = warnings(json);
  return out;
}

std::vector<AreaAbove> above(const Json& json) {
  std::vector<AreaAbove> levels;
  for (const Json& level : json.at("above")) {
    levels.push_back({level.at("dE00").get<double>(), level.at("area_mm2").get<double>(),
                      level.at("share").get<double>()});
  }
  return levels;
}

ColourArea colour_area(const Json& json) {
  return {json.at("area_mm2").get<double>(), json.at("share").get<double>(),
          number_of(json.at("mean_dE00"))};
}

SideChange side_change(const Json& json) {
  SideChange out;
  out.from = json.at("from").get<std::string>();
  out.to = json.at("to").get<std::string>();
  out.sheet_mm2 = json.at("sheet_mm2").get<double>();
  const Json& lost = json.at("lost_ink");
  out.lost_ink = {lost.at("area_mm2").get<double>(), lost.at("share").get<double>(),
                  number_of(lost.at("mean_kept"))};
  out.gained_colour = colour_area(json.at("gained_colour"));
  out.gained_above = above(json.at("gained_colour"));
  if (json.contains("bleed_through")) {
    const Json& bleed = json.at("bleed_through");
    out.bleed_through = BleedThrough{colour_area(bleed), above(bleed), {}};
    for (const Json& source : bleed.at("sources")) {
      out.bleed_through->sources.push_back(
          {lab_of(source.at("lab")), source.at("share").get<double>()});
    }
  }
  out.warnings = warnings(json);
  return out;
}

Map map(const Json& json) {
  Map out;
  out.kind = json.at("kind").get<std::string>();
  out.side = side_of(json.at("side"));
  out.from = json.at("from").get<std::string>();
  out.to = json.at("to").get<std::string>();
  if (!json.at("png").is_null()) out.png = json.at("png").get<std::string>();
  out.tiff = json.at("tiff").get<std::string>();
  out.unit = json.at("unit").get<std::string>();
  out.pitch_px = json.at("pitch_px").get<double>();
  out.origin_px = point_of(json.at("origin_px"));
  json.at("plain").get_to(out.plain);
  json.at("overlay").get_to(out.overlay);
  return out;
}

Results parse(const Json& json) {
  if (json.at("inkwane").at("format").get<int>() != 1) throw std::invalid_argument("not format 1");
  Results out;
  out.version = json.at("inkwane").at("version").get<std::string>();
  if (json.contains("treatment"))
    out.treatment_sha256 = json.at("treatment").at("sha256").get<std::string>();
  const Json& settings = json.at("settings");
  // Earlier versions did not write it.
  if (settings.contains("stray_light")) out.stray_light = stray_light(settings.at("stray_light"));
  out.aperture_mm = settings.at("aperture_mm").get<double>();
  out.grid_mm = settings.at("grid_mm").get<double>();
  out.calibrated = settings.at("calibrated").get<bool>();
  out.doubtful = json.at("doubtful").get<bool>();
  out.warnings = warnings(json);
  const Json& sheet = json.at("sheet");
  out.sheet.turn = turn(sheet.at("turn"));
  if (!sheet.at("turn_seen").is_null()) out.sheet.turn_seen = turn(sheet.at("turn_seen"));
  out.sheet.pairing_mm = number_of(sheet.at("pairing_mm"));
  read_record(json.at("record"), out);
  if (const Json& r = json.at("repeatability"); !r.is_null()) {
    out.repeatability = {r.at("from").get<std::string>(),
                         r.at("u_dE00").get<double>(),
                         r.at("degrees_of_freedom").get<int>(),
                         {}};
    for (const Json& item : r.at("files"))
      out.repeatability->files.emplace_back(item.at("file").get<std::string>(),
                                            item.at("sha256").get<std::string>());
  }
  out.regions_stamp = stamp_of(json.at("regions_stamp"));
  for (const Json& item : json.at("scans")) out.scans.push_back(scan(item));
  for (const Json& item : json.at("regions")) out.regions.push_back(region(item));
  for (const Side name : kSides) {
    if (!json.at("sides").contains(to_string(name))) continue;
    SideResult& result = out.sides[name];
    for (const Json& item : json.at("sides").at(to_string(name)).at("changes")) {
      result.changes.push_back(side_change(item));
    }
  }
  for (const Json& item : json.at("maps")) out.maps.push_back(map(item));
  take_pictures(json, out);
  out.findings = read_findings(json);
  if (json.contains("course")) out.course = course_from_json(json.at("course"));
  return out;
}

}  // namespace

Results read_results(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) {
    throw Error(ExitCode::scan, fmt::format("{}: cannot be read; give a folder that `inkwane "
                                            "assess` wrote.",
                                            file.string()));
  }
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  try {
    return parse(Json::parse(text));
  } catch (const std::exception& error) {
    throw Error(ExitCode::scan,
                fmt::format("{}: is not a results file of this format ({}); assess again.",
                            file.string(), error.what()));
  }
}

}  // namespace inkwane::results
