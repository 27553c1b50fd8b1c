#include "desk/drawn_json.hpp"

#include <cmath>
#include <stdexcept>

namespace inkwane::desk {
namespace {

/// More than any hand draws; a polygon's check takes the square of it.
constexpr std::size_t kMostPoints = 5000;
constexpr std::size_t kMostRegions = 2000;

std::string key_of(const treatment::ScanName& scan) {
  return scan.first + "/" + to_string(scan.second);
}

treatment::ScanName scan_from(const std::string& key) {
  const std::size_t slash = key.rfind('/');
  if (slash == std::string::npos) throw BadRequest("a scan is named STAGE/SIDE");
  return {key.substr(0, slash), side_from(key.substr(slash + 1))};
}

const Json& at(const Json& json, const char* key) {
  const auto found = json.is_object() ? json.find(key) : json.end();
  if (!json.is_object() || found == json.end()) {
    throw BadRequest(std::string("lacks \"") + key + "\"");
  }
  return *found;
}

std::string text(const Json& json, const char* key) {
  const Json& value = at(json, key);
  if (!value.is_string()) throw BadRequest(std::string("\"") + key + "\" is no text");
  return value.get<std::string>();
}

Point point_from(const Json& json) {
  if (!json.is_array() || json.size() != 2 || !json[0].is_number() || !json[1].is_number()) {
    throw BadRequest("a point is [x, y]");
  }
  const Point p{json[0].get<double>(), json[1].get<double>()};
  if (!(std::abs(p.x) < 1e6) || !(std::abs(p.y) < 1e6)) throw BadRequest("a point is out of reach");
  return p;
}

Corners corners_from(const Json& json) {
  const std::vector<Point> points = points_from(json);
  if (points.size() != 4) throw BadRequest("four corners are wanted");
  return {points[0], points[1], points[2], points[3]};
}

Role role_from(const std::string& name) {
  for (const Role role : {Role::ink, Role::added, Role::paper, Role::watch}) {
    if (name == to_string(role)) return role;
  }
  throw BadRequest("no such role");
}

Region region_from(const Json& json) {
  Region region;
  region.id = text(json, "id");
  region.name = text(json, "name");
  region.side = side_from(text(json, "side"));
  region.role = role_from(text(json, "role"));
  if (region.role == Role::added) region.under = text(json, "under");
  region.polygon = points_from(at(json, "polygon"));
  return region;
}

template <typename Value, typename Read>
std::map<treatment::ScanName, Value> by_scan(const Json& json, const Read& read) {
  if (!json.is_object()) throw BadRequest("scans are listed by name");
  std::map<treatment::ScanName, Value> out;
  for (const auto& [key, value] : json.items()) out[scan_from(key)] = read(value);
  return out;
}

Json to_json(const ScanLook& scan) {
  Json out{{"stage", scan.stage}, {"side", to_string(scan.side)}, {"warnings", scan.warnings}};
  if (scan.error) out["error"] = *scan.error;
  if (scan.target) {
    out["target"] = to_json_list(*scan.target);
    out["left_out_dE00_median"] = scan.left_out_dE00_median;
  }
  if (scan.outline) {
    out["outline"] = to_json_list(*scan.outline);
    out["width_mm"] = scan.width_mm;
    out["height_mm"] = scan.height_mm;
    out["mm_per_px"] = scan.geometry.pitch_mm / scan.geometry.pitch_px;
  }
  if (scan.laid) {
    out["laid"] = {{"median_mm", scan.laid->residual_mm_median},
                   {"p95_mm", scan.laid->residual_mm_p95},
                   {"doubtful", scan.laid->doubtful}};
  }
  return out;
}

}  // namespace

Json to_json(Point p) {
  return Json::array({p.x, p.y});
}

Json to_json(const treatment::Drawn& drawn) {
  Json regions = Json::array(), corners = Json::object(), outlines = Json::object(),
       points = Json::object();
  for (const Region& region : drawn.regions) {
    regions.push_back({{"id", region.id},
                       {"name", region.name},
                       {"side", to_string(region.side)},
                       {"role", to_string(region.role)},
                       {"under", region.under},
                       {"polygon", to_json_list(region.polygon)}});
  }
  for (const auto& [scan, quad] : drawn.target_corners) corners[key_of(scan)] = to_json_list(quad);
  for (const auto& [scan, quad] : drawn.outlines) outlines[key_of(scan)] = to_json_list(quad);
  for (const auto& [scan, pairs] : drawn.control_points) {
    Json list = Json::array();
    for (const auto& [later, first] : pairs) list.push_back({to_json(later), to_json(first)});
    points[key_of(scan)] = list;
  }
  return {{"regions", regions},
          {"corners", corners},
          {"outlines", outlines},
          {"control_points", points}};
}

Json to_json(const Looked& looked) {
  Json scans = Json::array();
  for (const ScanLook& scan : looked.scans) scans.push_back(to_json(scan));
  return {{"calibrated", looked.calibrated}, {"scans", scans}};
}

std::vector<Point> points_from(const Json& json) {
  if (!json.is_array() || json.size() > kMostPoints) throw BadRequest("points are a list");
  std::vector<Point> points;
  for (const Json& p : json) points.push_back(point_from(p));
  return points;
}

Side side_from(const std::string& name) {
  for (const Side side : kSides) {
    if (name == to_string(side)) return side;
  }
  throw BadRequest("no such side");
}

treatment::Drawn drawn_from(const Json& json) {
  treatment::Drawn drawn;
  const Json& regions = at(json, "regions");
  if (!regions.is_array() || regions.size() > kMostRegions) throw BadRequest("regions are a list");
  for (const Json& region : regions) drawn.regions.push_back(region_from(region));
  drawn.target_corners = by_scan<Corners>(at(json, "corners"), corners_from);
  drawn.outlines = by_scan<Corners>(at(json, "outlines"), corners_from);
  drawn.control_points =
      by_scan<std::vector<ControlPoint>>(at(json, "control_points"), [](const Json& list) {
        std::vector<ControlPoint> pairs;
        if (!list.is_array() || list.size() > kMostPoints) throw BadRequest("pairs are a list");
        for (const Json& pair : list) {
          if (!pair.is_array() || pair.size() != 2) throw BadRequest("a pair is two points");
          pairs.emplace_back(point_from(pair[0]), point_from(pair[1]));
        }
        return pairs;
      });
  std::erase_if(drawn.control_points, [](const auto& entry) { return entry.second.empty(); });
  return treatment::rounded(std::move(drawn));
}

}  // namespace inkwane::desk
