#include "results/pictures_json.hpp"

namespace inkwane::results {
namespace {

Json to_json(const Frame& frame) {
  return {{"columns", frame.columns},
          {"rows", frame.rows},
          {"origin_px", point(frame.origin_px)},
          {"pitch_px", number(frame.pitch_px)},
          {"pitch_mm", number(frame.pitch_mm)}};
}

Frame frame_from(const Json& json) {
  return {json.at("columns").get<int>(), json.at("rows").get<int>(), point_of(json.at("origin_px")),
          json.at("pitch_px").get<double>(), json.at("pitch_mm").get<double>()};
}

std::string text(const Json& json, const char* key) {
  return json.at(key).get<std::string>();
}

}  // namespace

void put_pictures(const Results& results, Json& json) {
  json["images"] = Json::array();
  for (const Image& image : results.images) {
    json["images"].push_back({{"stage", image.stage},
                              {"side", to_string(image.side)},
                              {"file", image.file},
                              {"frame", to_json(image.frame)}});
  }
  json["crops"] = Json::array();
  for (const Crop& crop : results.crops) {
    json["crops"].push_back({{"region", crop.region},
                             {"stage", crop.stage},
                             {"map_kind", crop.map_kind},
                             {"from", crop.from},
                             {"to", crop.to},
                             {"file", crop.file},
                             {"frame", to_json(crop.frame)}});
  }
  json["readouts"] = Json::array();
  for (const Readout& readout : results.readouts) {
    json["readouts"].push_back({{"side", to_string(readout.side)},
                                {"from", readout.from},
                                {"to", readout.to},
                                {"file", readout.file},
                                {"frame", to_json(readout.frame)}});
  }
}

void take_pictures(const Json& json, Results& results) {
  for (const Json& item : json.at("images")) {
    results.images.push_back({text(item, "stage"), side_of(item.at("side")), text(item, "file"),
                              frame_from(item.at("frame"))});
  }
  for (const Json& item : json.at("crops")) {
    results.crops.push_back({text(item, "region"), text(item, "stage"), text(item, "map_kind"),
                             text(item, "from"), text(item, "to"), text(item, "file"),
                             frame_from(item.at("frame"))});
  }
  for (const Json& item : json.at("readouts")) {
    results.readouts.push_back({side_of(item.at("side")), text(item, "from"), text(item, "to"),
                                text(item, "file"), frame_from(item.at("frame"))});
  }
}

}  // namespace inkwane::results
