// What is drawn, between the page and the treatment file.
#pragma once

#include <nlohmann/json.hpp>

#include "desk/look.hpp"
#include "treatment/edit.hpp"

namespace inkwane::desk {

using Json = nlohmann::ordered_json;

/// Thrown for what the page must not send; the page never does.
class BadRequest : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

[[nodiscard]] Json to_json(Point p);
template <typename Points>
[[nodiscard]] Json to_json_list(const Points& points) {
  Json out = Json::array();
  for (const Point& p : points) out.push_back(to_json(p));
  return out;
}

[[nodiscard]] Json to_json(const treatment::Drawn& drawn);
[[nodiscard]] Json to_json(const Looked& looked);

/// Throws BadRequest.
[[nodiscard]] treatment::Drawn drawn_from(const Json& json);
[[nodiscard]] std::vector<Point> points_from(const Json& json);
[[nodiscard]] Side side_from(const std::string& name);

}  // namespace inkwane::desk
