#include "report/html/viewer.hpp"

#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "report/draw/draw.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

using Json = nlohmann::ordered_json;

/// First and last stage with a picture of the side, as the front shows them.
std::vector<const results::Image*> shown(const results::Results& results, Side side) {
  std::vector<const results::Image*> images;
  for (const Stage& stage : results.stages)
    for (const results::Image& image : results.images)
      if (image.side == side && image.stage == stage.id) {
        if (images.size() == 2) images.pop_back();
        images.push_back(&image);
      }
  return images;
}

Json to_json(const results::Frame& frame) {
  return {{"columns", frame.columns}, {"rows", frame.rows},         {"x", frame.origin_px.x},
          {"y", frame.origin_px.y},   {"pitch_px", frame.pitch_px}, {"pitch_mm", frame.pitch_mm}};
}

Json overlays(const results::Results& results, Side side, const std::string& from,
              const std::string& to, Pictures& pictures) {
  Json list = Json::array();
  for (const results::Map& map : results.maps) {
    if (map.side != side || map.from != from || map.to != to || map.overlay.empty()) continue;
    const std::string uri = pictures.uri(map.overlay);
    if (uri.empty()) continue;
    list.push_back({{"title", say("maps." + map.kind)},
                    {"uri", uri},
                    {"legend", "data:image/svg+xml;base64," + base64(to_svg(map_legend(map.kind)))},
                    {"says", say("maps." + map.kind + "_legend")}});
  }
  return list;
}

Json outlines(const results::Results& results, Side side, const results::Frame& frame) {
  Json list = Json::array();
  for (const results::Region& region : results.regions) {
    if (region.side != side) continue;
    Json points = Json::array();
    for (const Point& p : region.polygon) {
      points.push_back(std::round(10 * (p.x - frame.origin_px.x) / frame.pitch_px) / 10);
      points.push_back(std::round(10 * (p.y - frame.origin_px.y) / frame.pitch_px) / 10);
    }
    list.push_back({{"id", id_of("place-" + region.id)},
                    {"name", region.name.empty() ? region.id : region.name},
                    {"points", points}});
  }
  return list;
}

Json words() {
  Json out = Json::object();
  for (const std::string& key : all_keys())
    if (key.starts_with("viewer.")) out[key.substr(std::string("viewer.").size())] = say(key);
  out["to"] = say("common.to");
  return out;
}

}  // namespace

void put_viewer(Page& page, const results::Results& results, Side side, Pictures& pictures) {
  const auto images = shown(results, side);
  const std::string &from = images.front()->stage, &to = images.back()->stage;
  const std::size_t first = side == Side::recto ? 0 : shown(results, Side::recto).size();
  Json data{{"side", say(side == Side::recto ? "common.recto_long" : "common.verso_long")},
            {"from", from},
            {"to", to},
            {"before", fmt::format("picture-{}-{}", to_string(side), first)},
            {"after", fmt::format("picture-{}-{}", to_string(side), first + 1)},
            {"frame", to_json(images.front()->frame)},
            {"regions", outlines(results, side, images.front()->frame)},
            {"overlays", overlays(results, side, from, to, pictures)},
            {"readout", nullptr},
            {"words", words()}};
  for (const results::Readout& readout : results.readouts) {
    if (readout.side != side || readout.from != from || readout.to != to) continue;
    const std::string packed = pictures.data(readout.file);
    if (!packed.empty()) data["readout"] = {{"frame", to_json(readout.frame)}, {"packed", packed}};
  }
  std::string text = data.dump(-1, ' ', false, Json::error_handler_t::replace);
  // No "<" that a person wrote may open or end an element here; JSON lets it be spelt otherwise.
  for (auto at = text.find('<'); at != std::string::npos; at = text.find('<', at))
    text.replace(at, 1, "\\u003c");
  page.open("div", {{"class", "viewer"}, {"hidden", ""}});
  page.open("script", {{"type", "application/json"}}).raw(text).close();
  page.close().raw("\n");
}

}  // namespace inkwane::report
