#include "results/json_values.hpp"

#include <cmath>
#include <cstdlib>
#include <stdexcept>

#include <fmt/format.h>

namespace inkwane::results {

Json number(double value) {
  if (!std::isfinite(value)) return nullptr;
  return std::strtod(fmt::format("{:.7g}", value).c_str(), nullptr);
}

Json number(const Number& value) {
  return value ? number(*value) : Json(nullptr);
}

Json interval(const Interval& value) {
  if (!value) return nullptr;
  return {number((*value)[0]), number((*value)[1])};
}

Json lab(const LabD50& value) {
  return {number(value.L), number(value.a), number(value.b)};
}

Json point(const Point& value) {
  return {number(value.x), number(value.y)};
}

Json points(const std::vector<Point>& values) {
  Json out = Json::array();
  for (const Point& value : values) out.push_back(point(value));
  return out;
}

Number number_of(const Json& json) {
  return json.is_null() ? Number() : Number(json.get<double>());
}

Interval interval_of(const Json& json) {
  if (json.is_null()) return std::nullopt;
  return std::array<double, 2>{json.at(0).get<double>(), json.at(1).get<double>()};
}

LabD50 lab_of(const Json& json) {
  return {json.at(0).get<double>(), json.at(1).get<double>(), json.at(2).get<double>()};
}

Point point_of(const Json& json) {
  return {json.at(0).get<double>(), json.at(1).get<double>()};
}

std::vector<Point> points_of(const Json& json) {
  std::vector<Point> values;
  for (const Json& value : json) values.push_back(point_of(value));
  return values;
}

Side side_of(const Json& json) {
  const auto text = json.get<std::string>();
  for (const Side side : kSides) {
    if (to_string(side) == text) return side;
  }
  throw std::invalid_argument(fmt::format("\"{}\" is not a side", text));
}

Role role_of(const Json& json) {
  const auto text = json.get<std::string>();
  for (const Role role : {Role::ink, Role::added, Role::paper, Role::watch}) {
    if (to_string(role) == text) return role;
  }
  throw std::invalid_argument(fmt::format("\"{}\" is not a role", text));
}

Json stamp(const RegionsStamp& value) {
  Json earlier = Json::array();
  for (const auto& [sha256, modified] : value.earlier)
    earlier.push_back({{"sha256", sha256}, {"modified", modified}});
  return {{"sha256", value.sha256}, {"modified", value.modified}, {"earlier", earlier}};
}

RegionsStamp stamp_of(const Json& json) {
  RegionsStamp out{
      json.at("sha256").get<std::string>(), json.at("modified").get<std::string>(), {}};
  for (const Json& item : json.at("earlier"))
    out.earlier.emplace_back(item.at("sha256").get<std::string>(),
                             item.at("modified").get<std::string>());
  return out;
}

}  // namespace inkwane::results
