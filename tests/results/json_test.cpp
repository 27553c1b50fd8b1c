// Protects: results.json has the keys that docs/formats.md fixes, null for what could not be had,
// and reads back to the same text.
#include <filesystem>
#include <fstream>
#include <limits>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <unistd.h>

#include <inkwane/error.hpp>

#include "results/results.hpp"
#include "tests/results/sample.hpp"

using namespace inkwane;
using Json = nlohmann::ordered_json;

namespace {

std::vector<std::string> keys(const Json& object) {
  std::vector<std::string> out;
  for (const auto& [key, value] : object.items()) out.push_back(key);
  return out;
}

}  // namespace

TEST_CASE("results.json has the fixed keys") {
  const Json json = Json::parse(results::to_json(sample_results()));
  CHECK(json.at("inkwane").at("format") == 1);
  CHECK(keys(json.at("settings")) ==
        std::vector<std::string>{"aperture_mm", "grid_mm", "calibrated", "stray_light"});
  CHECK(keys(json.at("settings").at("stray_light")) ==
        std::vector<std::string>{"source", "file", "kappa", "u_kappa", "length_mm", "u_length_mm"});
  CHECK(json.at("settings").at("stray_light").at("source") == "card");
  CHECK(keys(json.at("sheet")) == std::vector<std::string>{"turn", "turn_seen", "pairing_mm"});
  const Json& scan = json.at("scans").at(0);
  CHECK(keys(scan) == std::vector<std::string>{"stage", "side", "repeat", "file", "sha256",
                                               "width_px", "height_px", "bit_depth",
                                               "resolution_dpi", "profile", "profile_sha256",
                                               "target", "registration", "warnings"});
  CHECK(scan.at("repeat") == 2);
  CHECK(scan.at("profile_sha256").is_null());
  CHECK(keys(json.at("repeatability")) ==
        std::vector<std::string>{"from", "u_dE00", "degrees_of_freedom", "files"});
  CHECK(keys(json.at("regions_stamp")) ==
        std::vector<std::string>{"sha256", "modified", "earlier"});
  CHECK(keys(scan.at("target")) ==
        std::vector<std::string>{"found", "corners_px", "model", "patches", "left_out_dE00_median",
                                 "left_out_dE00_p95", "left_out_dE00_max"});
  CHECK(scan.at("target").at("found") == true);
  CHECK(scan.at("target").at("corners_px").size() == 4);
  CHECK(scan.at("registration").at("residual_mm_p95").is_null());
  const Json& region = json.at("regions").at(0);
  CHECK(keys(region) == std::vector<std::string>{"id", "name", "side", "role", "untouched",
                                                 "area_mm2", "under", "polygon", "screens",
                                                 "stages", "changes", "warnings"});
  CHECK(keys(region.at("stages")) == std::vector<std::string>{"BT", "AT"});
  CHECK(region.at("stages").at("AT").at("lab") == Json({55, 50, 25}));
  CHECK(keys(region.at("changes").at(0)) ==
        std::vector<std::string>{"from", "to", "dE00", "dE00_ci95", "detectable", "dL", "da", "db",
                                 "dC", "dH", "strength_kept", "strength_kept_ci95", "residual",
                                 "residual_ci95", "contrast_dE00", "grey_scale", "warnings"});
  CHECK(region.at("changes").at(0).at("residual").is_null());
  const Json& side = json.at("sides").at("verso").at("changes").at(0);
  CHECK(keys(side) == std::vector<std::string>{"from", "to", "sheet_mm2", "lost_ink",
                                               "gained_colour", "bleed_through", "warnings"});
  CHECK(side.at("bleed_through").at("sources").at(0).at("share") == 0.8);
  CHECK(keys(json.at("maps").at(0)) == std::vector<std::string>{"kind", "side", "from", "to", "png",
                                                                "tiff", "unit", "pitch_px",
                                                                "origin_px", "plain", "overlay"});
  CHECK(json.at("maps").at(0).at("png").is_null());
}

TEST_CASE("the course has its fixed keys, an interval beside each number, and null for none") {
  const Json course = Json::parse(results::to_json(sample_results())).at("course");
  CHECK(keys(course) == std::vector<std::string>{"points", "weights", "decays", "last_step",
                                                 "forecast", "advice", "warnings", "cautions"});
  const Json& point = course.at("points").at(1);
  CHECK(keys(point) == std::vector<std::string>{"stage", "minutes", "dose_j_per_cm2", "removed",
                                                "removed_ci95", "lost", "lost_ci95", "counts",
                                                "warnings"});
  CHECK(point.at("removed_ci95") == Json({0.5, 0.7}));
  CHECK(point.at("lost").is_null());
  CHECK(point.at("lost_ci95").is_null());
  CHECK(keys(course.at("decays").at(0)) == std::vector<std::string>{"region", "role", "against",
                                                                    "rate", "rate_ci95", "floor",
                                                                    "floor_ci95", "shape", "note"});
  CHECK(keys(course.at("forecast")) ==
        std::vector<std::string>{"like_from", "like_to", "removed", "removed_ci95", "lost",
                                 "lost_ci95", "step_removed", "step_removed_ci95", "step_lost",
                                 "step_lost_ci95", "note"});
  CHECK(keys(course.at("advice")) == std::vector<std::string>{"verdict", "reason", "thresholds"});
  results::Results none = sample_results();
  none.course.reset();
  CHECK(Json::parse(results::to_json(none)).at("course").is_null());
}

TEST_CASE("the record is whole, and numbers in it are numbers") {
  const Json record = Json::parse(results::to_json(sample_results())).at("record");
  CHECK(keys(record) == std::vector<std::string>{"object", "conservator", "purpose",
                                                 "condition_before", "past_treatment", "plan",
                                                 "consent_by", "consent_date", "variations",
                                                 "stages", "spot_tests"});
  CHECK(record.at("object").at("owner") == "Marlow Vale Nurseries");
  const Json& stage = record.at("stages").at(1);
  CHECK(stage.at("condition") == "damp");
  CHECK(stage.at("dried") == "2026-03-08");
  CHECK(stage.at("steps").at(0) ==
        Json({{"kind", "bath"}, {"solution", "calcium hydroxide"}, {"minutes", 45.0}}));
  CHECK(stage.at("steps").at(1).at("dose_j_per_cm2") == 72.0);
  const Json& test = record.at("spot_tests").at(0);
  CHECK(test.at("medium") == "red");
  CHECK(test.at("ph") == 11.9);
  CHECK(test.at("dwell_minutes") == 15.0);
}

TEST_CASE("numbers that are not finite become null") {
  auto r = sample_results();
  r.regions[0].changes[0].dE00 = std::numeric_limits<double>::quiet_NaN();
  CHECK(Json::parse(results::to_json(r))
            .at("regions")
            .at(0)
            .at("changes")
            .at(0)
            .at("dE00")
            .is_null());
}

TEST_CASE("what was written is read back") {
  const auto file = std::filesystem::temp_directory_path() /
                    ("inkwane-results-" + std::to_string(getpid()) + ".json");
  const std::string text = results::to_json(sample_results());
  std::ofstream(file) << text;
  CHECK(results::to_json(results::read_results(file)) == text);
  std::ofstream(file) << text.substr(0, text.size() / 2);
  CHECK_THROWS_AS(results::read_results(file), Error);
  std::filesystem::remove(file);
  CHECK_THROWS_AS(results::read_results(file), Error);
}

TEST_CASE("suspects stand at the top, each as a region that can be pasted") {
  const Json json = Json::parse(results::to_json(sample_results()));
  const Json& suspect = json.at("suspects").at(0);
  CHECK(suspect.at("under") == "paper");
  CHECK(suspect.at("from").is_null());
  CHECK(suspect.at("region_toml") ==
        "[[region]]\nid = \"suspect-1\"\nside = \"verso\"\nrole = \"added\"\nunder = \"paper\"\n"
        "polygon = [[1.0, 2.0], [3.0, 4.0], [5.0, 2.0]]\n");
  CHECK(keys(json.at("findings")) == std::vector<std::string>{"still_shows", "tidelines", "inks",
                                                              "blotters", "limits",
                                                              "suspects_pictures", "warnings"});
  CHECK(json.at("findings").at("blotters").at(0).at("took_original") == true);
}
