// Protects: what a conservator writes arrives as written, and every slip is met with one sentence
// that names the file, the line and the key (docs/formats.md, "treatment.toml").
#include <catch2/catch.hpp>

#include "tests/treatment/text.hpp"

using namespace inkwane;
namespace fs = std::filesystem;
using Catch::Matchers::Contains;
using test::read;
using test::refusal;

namespace {

const std::string kHead = R"(inkwane = 1
[object]
title = "A sheet"
[[stage]]
id = "BT"
recto = "bt.tif"
)";

std::string region(const std::string& keys) {
  return kHead + "[[region]]\n" + keys;
}

}  // namespace

TEST_CASE("a full treatment file is read as written") {
  const Treatment t = read(R"(inkwane = 1
[object]
title = "Marlow Vale Nurseries"
identifier = "MVN 1931"
width_mm = 190
height_mm = 262.5
turn = "top"
[target]
reference = "target.txt"
rows = 3
columns = 5
corners."DT.1.recto" = [[1, 2], [3.5, 4], [5, 6], [7, 8]]
[measure]
aperture_mm = 0.4
grid_mm = 0.2
scanner = "scanner.toml"
[[stage]]
id = "DT.1"
date = 2026-03-02
recto = "scans/a.tif"
verso = "/absolute/b.tif"
note = "before"
[[stage]]
id = "AT"
date = "2026-03-09"
recto = "scans/c.tif"
outline.recto = [[1, 2], [30, 2], [30, 40.5], [1, 40]]
control_points.recto = [[[1, 2], [3, 4]]]
  [[stage.step]]
  kind = "bath"
  solution = "calcium hydroxide"
  minutes = 45
[[region]]
id = "petals"
name = "red of the petals"
side = "recto"
role = "ink"
polygon = [[0, 0], [9, 0], [9, 9]]
[[region]]
id = "touch"
side = "recto"
role = "added"
under = "petals"
polygon = [[0, 0], [9, 0], [9, 9]]
)");
  CHECK(t.object.identifier == "MVN 1931");
  CHECK(t.object.width_mm == 190.0);
  CHECK(t.object.turn == Turn::top);
  REQUIRE(t.target);
  CHECK(t.target->rows == 3);
  CHECK(t.target->columns == 5);
  CHECK(t.target->reference.filename() == "target.txt");
  CHECK(t.target->reference.parent_path() == t.file.parent_path());
  CHECK(t.target->corners.at({"DT.1", Side::recto})[1].x == 3.5);
  CHECK(t.measure.grid_mm == 0.2);
  REQUIRE(t.measure.scanner);
  CHECK(t.measure.scanner->filename() == "scanner.toml");
  CHECK(t.measure.scanner->parent_path() == t.target->reference.parent_path());
  REQUIRE(t.stages.size() == 2);
  CHECK(t.stages[0].date == "2026-03-02");
  CHECK(t.stages[0].scans.at(Side::verso) == "/absolute/b.tif");
  CHECK(t.stages[1].date == "2026-03-09");
  CHECK(t.stages[1].outlines.at(Side::recto)[2].y == 40.5);
  CHECK(t.stages[1].control_points.at(Side::recto).at(0).second.y == 4);
  REQUIRE(t.stages[1].steps.size() == 1);
  CHECK(t.stages[1].steps[0].details ==
        std::vector<Detail>{{"solution", "calcium hydroxide"}, {"minutes", 45.0}});
  REQUIRE(t.regions.size() == 2);
  CHECK(t.regions[0].under == "paper");
  CHECK(t.regions[1].under == "petals");
  CHECK(t.regions[1].name == "touch");
}

TEST_CASE("defaults are those of the documentation") {
  const Treatment t = read(kHead);
  CHECK_FALSE(t.target);
  CHECK(t.object.turn == Turn::side);
  CHECK(t.measure.aperture_mm == 0.5);
  CHECK(t.measure.grid_mm == 0.1);
  CHECK_FALSE(t.measure.scanner);
}

TEST_CASE("slips are named with their line") {
  CHECK_THAT(refusal(kHead + "colour = 1\n"), Contains("line 7") && Contains("\"colour\""));
  CHECK_THAT(refusal("[object]\ntitle = \"x\"\n"), Contains("inkwane = 1"));
  CHECK_THAT(refusal("inkwane = 2\n"), Contains("format 1"));
  CHECK_THAT(refusal("inkwane = 1\n[object\n"), Contains("line 2"));
  CHECK_THAT(refusal("inkwane = 1\n[object]\n[[stage]]\nid = \"BT\"\nrecto = \"a\"\n"),
             Contains("line 2") && Contains("\"title\""));
  CHECK_THAT(refusal(kHead + "[measure]\ngrid_mm = 0\n"),
             Contains("line 8") && Contains("grid_mm"));
  CHECK_THAT(refusal(kHead + "[measure]\ngrid_mm = 2\n"), Contains("aperture"));
  CHECK_THAT(refusal(kHead + "[measure]\naperture_mm = \"wide\"\n"), Contains("must be a number"));
  CHECK_THAT(refusal(kHead + "[measure]\naperture_mm = nan\n"), Contains("out of range"));
  CHECK_THAT(refusal(kHead + "date = \"2026-13-02\"\n"), Contains("date"));
  CHECK_THAT(refusal(kHead + "[[stage]]\nid = \"BT\"\nrecto = \"b.tif\"\n"), Contains("twice"));
  CHECK_THAT(refusal(kHead + "[[stage]]\nid = \"AT\"\n"), Contains("no scan"));
  CHECK_THAT(refusal(kHead + "[[stage.step]]\nkind = \"magic\"\n"), Contains("\"magic\""));
  CHECK_THAT(refusal(kHead + "[target]\nreference = \"t\"\ncorners.\"BT.verso\" = "
                             "[[0,0],[1,0],[1,1],[0,1]]\n"),
             Contains("BT.verso"));
  CHECK_THAT(refusal("inkwane = 1\n[object]\ntitle = \"x\"\n"), Contains("[[stage]]"));
}

TEST_CASE("slips in regions are named") {
  const std::string polygon = "polygon = [[0, 0], [9, 0], [9, 9]]\n";
  CHECK_THAT(refusal(region("id = \"r\"\nside = \"recto\"\nrole = \"dye\"\n" + polygon)),
             Contains("\"dye\"") && Contains("watch"));
  CHECK_THAT(refusal(region("id = \"r\"\nside = \"verso\"\nrole = \"ink\"\n" + polygon)),
             Contains("no stage has a scan of the verso"));
  CHECK_THAT(refusal(region("id = \"r\"\nside = \"recto\"\nrole = \"ink\"\nunder = \"paper\"\n" +
                            polygon)),
             Contains("only to a region of role \"added\""));
  CHECK_THAT(
      refusal(region("id = \"r\"\nside = \"recto\"\nrole = \"added\"\nunder = \"x\"\n" + polygon)),
      Contains("line 11") && Contains("names no region"));
  CHECK_THAT(
      refusal(region("id = \"r\"\nside = \"recto\"\nrole = \"added\"\nunder = \"r\"\n" + polygon)),
      Contains("not an ink region"));
  CHECK_THAT(refusal(region("id = \"r\"\nside = \"recto\"\nrole = \"ink\"\n"
                            "polygon = [[0, 0], [9, 9], [9, 0], [0, 9]]\n")),
             Contains("crosses itself") && Contains("\"r\""));
  CHECK_THAT(
      refusal(region("id = \"r\"\nside = \"recto\"\nrole = \"ink\"\npolygon = [[0, 0], [9, 9]]\n")),
      Contains("at least three"));
  CHECK_THAT(
      refusal(region(
          "id = \"r\"\nside = \"recto\"\nrole = \"ink\"\npolygon = [[0, 0], [9], [1, 2]]\n")),
      Contains("pair of numbers"));
}

TEST_CASE("a missing file or a folder is refused") {
  CHECK_THROWS_WITH(read_treatment("/nowhere/treatment.toml"), Contains("/nowhere/treatment.toml"));
  CHECK_THROWS_WITH(read_treatment(fs::temp_directory_path()), Contains("folder"));
}

TEST_CASE("an outline that is none, or of no scan, is refused") {
  CHECK_THAT(refusal(kHead + "outline.recto = [[1, 1], [9, 9], [9, 1], [1, 9]]\n"),
             Contains("line 7") && Contains("top left corner clockwise"));
  CHECK_THAT(refusal(kHead + "outline.recto = [[1, 1], [9, 9], [9, 1]]\n"),
             Contains("four points"));
  CHECK_THAT(refusal(kHead + "outline.verso = [[1, 1], [9, 1], [9, 9], [1, 9]]\n"),
             Contains("no scan of the verso"));
}

TEST_CASE("several scans of a side, a pair that tells repeatability, and untouched regions") {
  const Treatment t = read(R"(inkwane = 1
[object]
title = "A sheet"
[measure]
repeat = ["white-1.tif", "white-2.tif"]
[[stage]]
id = "BT"
recto = ["a.tif", "b.tif", "c.tif"]
verso = ["v.tif"]
[[region]]
id = "margin"
side = "recto"
role = "paper"
untouched = true
polygon = [[1, 1], [9, 1], [9, 9]]
)");
  CHECK(t.stages[0].scans.at(Side::recto).filename() == "a.tif");
  REQUIRE(t.stages[0].repeats.at(Side::recto).size() == 2);
  CHECK(t.stages[0].repeats.at(Side::recto)[1].filename() == "c.tif");
  CHECK_FALSE(t.stages[0].repeats.contains(Side::verso));
  CHECK(t.measure.repeat.size() == 2);
  CHECK(t.regions[0].untouched);

  const std::string stage = "inkwane = 1\n[object]\ntitle = \"A\"\n[[stage]]\nid = \"BT\"\n";
  CHECK_THAT(refusal(stage + "recto = []\n"), Contains("recto") && Contains("at least 1"));
  CHECK_THAT(refusal(stage + "recto = [\"a.tif\", 3]\n"), Contains("quotation marks"));
  CHECK_THAT(refusal(stage + "recto = [\"a.tif\", \"a.tif\"]\n"), Contains("twice"));
  CHECK_THAT(refusal(kHead + "[measure]\nrepeat = \"a.tif\"\n"), Contains("at least 2"));
  CHECK_THAT(refusal(region("id = \"m\"\nside = \"recto\"\nrole = \"paper\"\nuntouched = 1\n")),
             Contains("true or false"));
}
