// Protects: what the page sends is checked before it is believed, nothing outside the treatment's
// folder is read, and the page's files are built into the program unharmed.
#include "desk/desk.hpp"

#include <fstream>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "desk/page_files.hpp"
#include "desk/rejected.hpp"
#include "results/results.hpp"
#include "tests/support.hpp"
#include "treatment/save.hpp"

using namespace inkwane;
using Catch::Matchers::Contains;
using desk::BadRequest;
using desk::Json;
namespace fs = std::filesystem;

namespace {

const std::string kTreatment = R"(# mine
inkwane = 1
[object]
title = "A <sheet>"
[[stage]]
id = "BT"
recto = "scans/bt.tif"
)";

struct Sheet {
  test::TemporaryFolder folder;
  fs::path file = folder / "treatment.toml";

  explicit Sheet(const std::string& text = kTreatment) { std::ofstream(file) << text; }
};

Json one_region() {
  return Json::parse(R"({"regions": [{"id": "p", "name": "p", "side": "recto", "role": "paper",
    "under": "paper", "polygon": [[1, 1], [50, 1], [50, 50]]}],
    "corners": {}, "outlines": {"BT/recto": [[1, 1], [9, 1], [9, 9], [1, 9]]}, "control_points": {}})");
}

}  // namespace

TEST_CASE("what is drawn is saved, read back, and never saved over another's change") {
  const Sheet sheet;
  desk::Desk desk(sheet.file, 1);
  const Json before = desk.state();
  CHECK(before["title"] == "A <sheet>");
  const Json after = desk.save({{"base", before["base"]}, {"drawn", one_region()}});
  CHECK(after["drawn"] == one_region());
  CHECK(after["drawn"] == desk.state()["drawn"]);
  CHECK(treatment::read_text(sheet.file).starts_with("# mine\n"));
  CHECK_THROWS_AS(desk.save({{"base", before["base"]}, {"drawn", one_region()}}),
                  treatment::ChangedUnderneath);
  Json none = one_region();
  none["regions"] = Json::array();
  CHECK(desk.save({{"base", before["base"]}, {"drawn", none}, {"over", true}})["drawn"] == none);
}

TEST_CASE("what the page never sends is refused") {
  const Sheet sheet;
  desk::Desk desk(sheet.file, 1);
  const auto with = [](const char* pointer, const Json& value) {
    Json drawn = one_region();
    drawn[Json::json_pointer(pointer)] = value;
    return drawn;
  };
  for (const Json& drawn :
       {Json(), Json(1), Json::object(), with("/regions", "x"), with("/regions/0/polygon", "x"),
        with("/regions/0/polygon/0", {1}), with("/regions/0/polygon/0/0", "1"),
        with("/regions/0/polygon/0/0", 1e300), with("/regions/0/side", "front"),
        with("/regions/0/role", 3), with("/outlines", Json{{"BT", Json::array()}}),
        with("/control_points", Json::array())}) {
    CHECK_THROWS_AS(desk::drawn_from(drawn), BadRequest);
  }
  CHECK_THROWS_AS(desk.save(Json::array()), BadRequest);
  CHECK_THROWS_AS(desk.shape(Json{{"kind", "star"}}), BadRequest);
  CHECK_THROWS_AS(desk.shape(Json{{"kind", "line"}}), std::exception);
  CHECK_THROWS_AS(desk.scan(7, Side::recto), BadRequest);
  CHECK_THROWS_AS(desk.scan(0, Side::verso), BadRequest);
  CHECK(treatment::read_text(sheet.file) == kTreatment);
}

TEST_CASE("a suspect that was rejected stays rejected, and the treatment file as it is") {
  const Sheet sheet;
  fs::create_directory(sheet.folder / "assessment");
  const auto assess = [&sheet](const std::vector<Point>& outline, const char* id) {
    results::Results results;
    results::Suspect suspect;
    suspect.id = id;
    suspect.place = {Side::recto, {}, outline, 9};
    results.findings.suspects = {suspect};
    std::ofstream(sheet.folder / "assessment/results.json") << results::to_json(results);
  };
  const auto square = [](double x, double y, double side) {
    return std::vector<Point>{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}};
  };
  const auto rejected = [&sheet] {
    return desk::Desk(sheet.file, 1).results()["suspects"][0]["rejected"].get<bool>();
  };
  const auto answer = [&sheet](const std::vector<Point>& outline, bool reject) {
    return desk::Desk(sheet.file, 1)
        .reject(
            {{"side", "recto"}, {"outline", desk::to_json_list(outline)}, {"rejected", reject}});
  };
  assess(square(100, 100, 50), "suspect-1");
  CHECK_FALSE(rejected());
  CHECK(answer(square(100, 100, 50), true)["suspects"][0]["rejected"] == true);
  CHECK(treatment::read_text(sheet.file) == kTreatment);
  assess(square(104, 98, 52), "suspect-7");  // the same place, as another assessment finds it
  CHECK(rejected());
  assess(square(100, 100, 120), "suspect-1");  // grown far beyond it
  CHECK_FALSE(rejected());
  assess(square(300, 100, 50), "suspect-1");  // elsewhere
  CHECK_FALSE(rejected());
  assess(square(104, 98, 52), "suspect-1");
  CHECK(answer(square(104, 98, 52), false)["suspects"][0]["rejected"] == false);
  CHECK_FALSE(fs::exists(desk::rejected_file(sheet.file)));

  std::ofstream(desk::rejected_file(sheet.file)) << "{\"inkwane_desk\": 1}";
  CHECK_THROWS_WITH(rejected(), Contains("treatment-desk.json") && Contains("take it away"));
  CHECK_THROWS_AS(answer({{0, 0}, {1, 1}}, true), BadRequest);
}

TEST_CASE("nothing outside the treatment's folder is read") {
  const test::TemporaryFolder other;
  std::ofstream(other / "secret.tif") << "secret";
  const auto refusal = [](const Sheet& sheet) -> std::string {
    try {
      const desk::Desk desk(sheet.file, 1);
    } catch (const Error& error) {
      CHECK(error.code() == ExitCode::usage);
      return error.what();
    }
    return "accepted";
  };
  const auto with_scan = [](const std::string& scan) {
    return kTreatment.substr(0, kTreatment.find("scans/")) + scan + "\"\n";
  };
  CHECK_THAT(refusal(Sheet(with_scan((other / "secret.tif").string()))), Contains("lies outside"));
  CHECK_THAT(refusal(Sheet(with_scan("../secret.tif"))), Contains("lies outside"));
  const Sheet linked;
  fs::create_directory_symlink(other.path(), linked.folder / "scans");
  CHECK_THAT(refusal(linked), Contains("lies outside"));

  const Sheet sheet;  // a link that came while the desk was open
  desk::Desk desk(sheet.file, 1);
  fs::create_directory_symlink(other.path(), sheet.folder / "assessment");
  std::ofstream(other / "report.html") << "secret";
  CHECK_THROWS_AS(desk.report(), Error);
  CHECK_THROWS_AS(desk.results(), Error);
}

TEST_CASE("a line and a hand's border become polygons") {
  const Sheet sheet;
  const desk::Desk desk(sheet.file, 1);
  const auto shape = [&desk](const char* json) {
    return desk.shape(Json::parse(json))["polygon"].size();
  };
  CHECK(shape(R"({"kind": "line", "points": [[0, 0], [100, 0]], "width": 4})") == 4);
  CHECK(shape(R"({"kind": "line", "points": [[0, 0], [0, 0]], "width": 4})") == 0);
  CHECK(
      shape(
          R"({"kind": "freehand", "points": [[0, 0], [99, 99], [99, 0], [0, 99]], "tolerance": 1})") >=
      3);
  CHECK(shape(R"({"kind": "grow", "side": "recto", "at": [5, 5], "reach": 10})") ==
        0);  // not looked yet
}

TEST_CASE("the page's files are those that were written") {
  for (const char* name : {"index.html", "desk.css", "main.js", "strings.js"}) {
    CAPTURE(name);
    const desk::PageFile* file = desk::page_file(name);
    REQUIRE(file != nullptr);
    CHECK(file->content == treatment::read_text(fs::path(INKWANE_SOURCE) / "src/desk/page" / name));
  }
  REQUIRE(desk::page_file("leaflet.min.js") != nullptr);
  CHECK(desk::page_file("leaflet.min.js")->content.size() > 100'000);
  CHECK(desk::page_file("../main.cpp") == nullptr);
}
