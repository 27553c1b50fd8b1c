#include "results/findings_json.hpp"

#include <fmt/format.h>

namespace inkwane::results {
namespace {

template <typename Record, typename Of>
Json list(const std::vector<Record>& records, const Of& of) {
  Json out = Json::array();
  for (const Record& record : records) out.push_back(of(record));
  return out;
}

template <typename Record>
std::vector<Record> read_list(const Json& json, Record (*from)(const Json&)) {
  std::vector<Record> out;
  for (const Json& item : json) out.push_back(from(item));
  return out;
}

std::string text(const Json& json, const char* key) {
  return json.at(key).get<std::string>();
}
double value(const Json& json, const char* key) {
  return json.at(key).get<double>();
}
/// Words that may be missing stand as null in the file.
Json words(const std::string& value) {
  return value.empty() ? Json(nullptr) : Json(value);
}
std::string words_of(const Json& json) {
  return json.is_null() ? std::string() : json.get<std::string>();
}

/// Adds a place's keys to a record that starts with others.
Json placed(Json out, const Place& place) {
  out["side"] = to_string(place.side);
  out["at_mm"] = point(place.at_mm);
  out["area_mm2"] = number(place.area_mm2);
  out["outline_px"] = points(place.outline);
  return out;
}
Place place_from(const Json& json) {
  return {side_of(json.at("side")), point_of(json.at("at_mm")), points_of(json.at("outline_px")),
          value(json, "area_mm2")};
}

Json still_to(const StillShows& patch) {
  return placed({{"stage", patch.stage},
                 {"region", patch.region},
                 {"lab", lab(patch.lab)},
                 {"around_lab", lab(patch.around)},
                 {"contrast_dE00", number(patch.contrast_dE00)},
                 {"residual", number(patch.residual)}},
                patch.place);
}
StillShows still_from(const Json& json) {
  return {
      text(json, "stage"),           text(json, "region"),          place_from(json),
      lab_of(json.at("lab")),        lab_of(json.at("around_lab")), value(json, "contrast_dE00"),
      number_of(json.at("residual"))};
}

Json tideline_to(const Tideline& line) {
  return {{"from", line.from},
          {"to", line.to},
          {"side", to_string(line.side)},
          {"at_mm", point(line.at_mm)},
          {"length_mm", number(line.length_mm)},
          {"width_mm", number(line.width_mm)},
          {"contrast_dE00", number(line.contrast_dE00)},
          {"line_px", points(line.line)}};
}
Tideline tideline_from(const Json& json) {
  return {text(json, "from"),         text(json, "to"),
          side_of(json.at("side")),   points_of(json.at("line_px")),
          point_of(json.at("at_mm")), value(json, "length_mm"),
          value(json, "width_mm"),    value(json, "contrast_dE00")};
}

Json suspect_to(const Suspect& suspect) {
  return placed({{"id", suspect.id},
                 {"score", number(suspect.score)},
                 {"reason", suspect.reason},
                 {"lab", lab(suspect.lab)},
                 {"under", words(suspect.under)},
                 {"from", words(suspect.from)},
                 {"to", words(suspect.to)},
                 {"region_toml", region_toml(suspect)}},
                suspect.place);
}
Suspect suspect_from(const Json& json) {
  return {text(json, "id"),          place_from(json),       lab_of(json.at("lab")),
          value(json, "score"),      text(json, "reason"),   words_of(json.at("under")),
          words_of(json.at("from")), words_of(json.at("to"))};
}

Json ink_change_to(const InkChange& change) {
  return {{"from", change.from},
          {"to", change.to},
          {"mean_kept", number(change.mean_kept)},
          {"mean_kept_ci95", interval(change.mean_kept_ci95)},
          {"worst_kept", number(change.worst_kept)},
          {"worst_at_mm", change.worst_kept ? point(change.worst_at_mm) : Json(nullptr)}};
}
InkChange ink_change_from(const Json& json) {
  InkChange change{text(json, "from"),
                   text(json, "to"),
                   number_of(json.at("mean_kept")),
                   interval_of(json.at("mean_kept_ci95")),
                   {},
                   number_of(json.at("worst_kept"))};
  if (change.worst_kept) change.worst_at_mm = point_of(json.at("worst_at_mm"));
  return change;
}

Json ink_to(const SheetInk& ink) {
  return {{"name", ink.name},
          {"side", to_string(ink.side)},
          {"lab", lab(ink.lab)},
          {"area_mm2", number(ink.area_mm2)},
          {"changes", list(ink.changes, ink_change_to)}};
}
SheetInk ink_from(const Json& json) {
  return {text(json, "name"), side_of(json.at("side")), lab_of(json.at("lab")),
          value(json, "area_mm2"), read_list(json.at("changes"), ink_change_from)};
}

Json match_to(const BlotterMatch& match) {
  return {{"region", words(match.region)},
          {"name", match.name},
          {"role", to_string(match.role)},
          {"share", number(match.share)},
          {"share_ci95", interval(match.share_ci95)}};
}
BlotterMatch match_from(const Json& json) {
  return {words_of(json.at("region")), text(json, "name"), role_of(json.at("role")),
          value(json, "share"), interval_of(json.at("share_ci95"))};
}

Json blotter_to(const Blotter& blotter) {
  return {{"id", blotter.id},
          {"stage", blotter.stage},
          {"file", blotter.file},
          {"sha256", blotter.sha256},
          {"lab", lab(blotter.lab)},
          {"blank_lab", lab(blotter.blank_lab)},
          {"stained_mm2", number(blotter.stained_mm2)},
          {"absorption_mm2", number(blotter.absorption_mm2)},
          {"absorption_mm2_ci95", interval(blotter.absorption_mm2_ci95)},
          {"matches", list(blotter.matches, match_to)},
          {"unexplained", number(blotter.unexplained)},
          {"took_original", blotter.took_original ? Json(*blotter.took_original) : Json(nullptr)},
          {"sentence", blotter.sentence},
          {"warnings", blotter.warnings}};
}
Blotter blotter_from(const Json& json) {
  Blotter blotter;
  blotter.id = text(json, "id");
  blotter.stage = text(json, "stage");
  blotter.file = text(json, "file");
  blotter.sha256 = text(json, "sha256");
  blotter.lab = lab_of(json.at("lab"));
  blotter.blank_lab = lab_of(json.at("blank_lab"));
  blotter.stained_mm2 = value(json, "stained_mm2");
  blotter.absorption_mm2 = value(json, "absorption_mm2");
  blotter.absorption_mm2_ci95 = interval_of(json.at("absorption_mm2_ci95"));
  blotter.matches = read_list(json.at("matches"), match_from);
  blotter.unexplained = number_of(json.at("unexplained"));
  if (const Json& took = json.at("took_original"); !took.is_null())
    blotter.took_original = took.get<bool>();
  blotter.sentence = text(json, "sentence");
  blotter.warnings = json.at("warnings").get<std::vector<std::string>>();
  return blotter;
}

Json limit_to(const DetectionLimit& limit) {
  return {{"what", limit.what},
          {"side", to_string(limit.side)},
          {"from", words(limit.from)},
          {"to", words(limit.to)},
          {"contrast_dE00", number(limit.contrast_dE00)},
          {"area_mm2", number(limit.area_mm2)},
          {"length_mm", number(limit.length_mm)}};
}
DetectionLimit limit_from(const Json& json) {
  return {text(json, "what"),      side_of(json.at("side")),     words_of(json.at("from")),
          words_of(json.at("to")), value(json, "contrast_dE00"), value(json, "area_mm2"),
          value(json, "length_mm")};
}

Json picture_to(const SuspectsPicture& picture) {
  return {{"side", to_string(picture.side)}, {"file", picture.file}};
}
SuspectsPicture picture_from(const Json& json) {
  return {side_of(json.at("side")), text(json, "file")};
}

}  // namespace

std::string region_toml(const Suspect& suspect) {
  std::string polygon;
  for (const Point& p : suspect.place.outline) {
    polygon += fmt::format("{}[{:.1f}, {:.1f}]", polygon.empty() ? "" : ", ", p.x, p.y);
  }
  return fmt::format("[[region]]\nid = \"{}\"\nside = \"{}\"\nrole = \"added\"\n{}polygon = [{}]\n",
                     suspect.id, to_string(suspect.place.side),
                     suspect.under.empty() ? "" : fmt::format("under = \"{}\"\n", suspect.under),
                     polygon);
}

void write_findings(const Findings& findings, Json& file) {
  file["findings"] = {{"still_shows", list(findings.still_shows, still_to)},
                      {"tidelines", list(findings.tidelines, tideline_to)},
                      {"inks", list(findings.inks, ink_to)},
                      {"blotters", list(findings.blotters, blotter_to)},
                      {"limits", list(findings.limits, limit_to)},
                      {"suspects_pictures", list(findings.pictures, picture_to)},
                      {"warnings", findings.warnings}};
  file["suspects"] = list(findings.suspects, suspect_to);
}

Findings read_findings(const Json& file) {
  const Json& json = file.at("findings");
  Findings findings;
  findings.still_shows = read_list(json.at("still_shows"), still_from);
  findings.tidelines = read_list(json.at("tidelines"), tideline_from);
  findings.suspects = read_list(file.at("suspects"), suspect_from);
  findings.inks = read_list(json.at("inks"), ink_from);
  findings.blotters = read_list(json.at("blotters"), blotter_from);
  findings.limits = read_list(json.at("limits"), limit_from);
  findings.pictures = read_list(json.at("suspects_pictures"), picture_from);
  findings.warnings = json.at("warnings").get<std::vector<std::string>>();
  return findings;
}

}  // namespace inkwane::results
