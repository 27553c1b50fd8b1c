// Protects: what is drawn at the desk reaches treatment.toml, and of what a person wrote there,
// comments, order, spacing and line ends included, not a byte is lost.
#include "treatment/edit.hpp"

#include <algorithm>
#include <sstream>

#include <catch2/catch.hpp>

#include "tests/treatment/text.hpp"

using namespace inkwane;
using treatment::Drawn;
using treatment::drawn_in;
using treatment::edit;

namespace {

const std::filesystem::path kFile = "sheet/treatment.toml";

const std::string kWritten = R"(# a sheet of many hands
inkwane = 1 # format

[object]
title = "Marlow Vale — Ünïted"   # with a dash
[target]
reference = "target.txt"  # measured by us
# corners come next
corners."BT.recto" = [[10, 10], [70, 10], # upper
                      [70, 50], [10, 50]] # lower

[[stage]]
id = "BT"
recto = "bt.tif"
verso = "btv.tif"

[[region]]   # the first one
  id = "petals"   # never rename
  # drawn by daylight
  name = "red of the petals"
  side = 'recto'
  role = "ink"
  polygon = [
    [400, 400], # top left: beside the stem
    [700, 400],
    [700, 700], [400, 700],
  ]  # of BT

[[stage]]
id = "AT"
recto = "at.tif"
control_points.recto = [[[1, 2], [3, 4]]] # helped

  [[stage.step]]
  kind = "bath" # 45 minutes
[[region]]
id = "line"
side = "recto"
role = "added"
under = "petals" # so it seems
polygon = [[900, 400], [1000, 400], [1000, 450]]
# after the last region

[[spot_test]]
medium = "red"
liquid = "water"
)";

Drawn drawn(const std::string& text) {
  return drawn_in(parse_treatment(text, kFile));
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

/// Lines of `before` that `after` has no more, and lines that are new in it.
struct Difference {
  std::vector<std::string> gone, fresh;
};
Difference difference(const std::string& before, const std::string& after) {
  const auto minus = [](std::vector<std::string> a, const std::vector<std::string>& b) {
    for (const std::string& line : b) {
      const auto found = std::find(a.begin(), a.end(), line);
      if (found != a.end()) a.erase(found);
    }
    return a;
  };
  return {minus(lines_of(before), lines_of(after)), minus(lines_of(after), lines_of(before))};
}

using Lines = std::vector<std::string>;

Region square(const std::string& id) {
  Region region;
  region.id = id;
  region.name = id;
  region.role = Role::paper;
  region.polygon = {{1, 1}, {9, 1}, {9, 9}, {1, 9}};
  return region;
}

std::string with_line_ends(std::string text, const std::string& end) {
  std::string out;
  for (const char c : text) out += c == '\n' ? end : std::string(1, c);
  return out;
}

}  // namespace

TEST_CASE("nothing wanted, nothing changed") {
  CHECK(edit(kWritten, kFile, drawn(kWritten)) == kWritten);
}

TEST_CASE("a name is changed in its place alone") {
  Drawn wanted = drawn(kWritten);
  wanted.regions[0].name = "the \"red\" \\ of\tpetals – ü";
  const auto [gone, fresh] = difference(kWritten, edit(kWritten, kFile, wanted));
  CHECK(gone == Lines{"  name = \"red of the petals\""});
  CHECK(fresh == Lines{R"(  name = "the \"red\" \\ of\u0009petals – ü")"});
}

TEST_CASE("comments within a polygon survive its redrawing") {
  Drawn wanted = drawn(kWritten);
  wanted.regions[0].polygon = {{1, 2}, {30.25, 4}, {5, 60}};
  const std::string after = edit(kWritten, kFile, wanted);
  CHECK(after.find("# top left: beside the stem") != std::string::npos);
  CHECK(after.find("]  # of BT") != std::string::npos);
  CHECK(after.find("  # drawn by daylight") != std::string::npos);
  CHECK(drawn(after).regions[0].polygon[1].x == 30.25);
  CHECK(edit(after, kFile, wanted) == after);
}

TEST_CASE("a new region follows the last one, before what was written after it") {
  Drawn wanted = drawn(kWritten);
  wanted.regions.push_back(square("margin"));
  wanted.regions.push_back(square("margin-2"));
  const std::string after = edit(kWritten, kFile, wanted);
  const auto [gone, fresh] = difference(kWritten, after);
  CHECK(gone.empty());
  CHECK(after.find(
            "[[region]]\nid = \"margin\"\nside = \"recto\"\nrole = \"paper\"\npolygon = [[1, "
            "1], [9, 1], [9, 9], [1, 9]]\n\n[[region]]\nid = \"margin-2\"") != std::string::npos);
  CHECK(after.find("margin") < after.find("# after the last region"));
  CHECK(drawn(after).regions.size() == 4);
}

TEST_CASE("a region between stages goes with its keys, and nothing else") {
  Drawn wanted = drawn(kWritten);
  wanted.regions.erase(wanted.regions.begin());
  wanted.regions[0].under = "paper";
  const std::string after = edit(kWritten, kFile, wanted);
  const auto [gone, fresh] = difference(kWritten, after);
  CHECK(fresh == Lines{"under = \"paper\" # so it seems"});
  CHECK(gone.size() == 13);  // twelve lines of the region and an empty one, less `under`'s old line
  CHECK(after.find("control_points.recto = [[[1, 2], [3, 4]]] # helped") != std::string::npos);
  CHECK(after.find("petals") == std::string::npos);
}

TEST_CASE("the last region is exchanged for another") {
  Drawn wanted = drawn(kWritten);
  wanted.regions.back() = square("other");
  const std::string after = edit(kWritten, kFile, wanted);
  CHECK(drawn(after).regions[1].id == "other");
  CHECK(after.find("# after the last region") != std::string::npos);
  CHECK(edit(after, kFile, wanted) == after);
}

TEST_CASE("a role that takes no `under` loses the key and keeps the comment behind it") {
  Drawn wanted = drawn(kWritten);
  wanted.regions[1].role = Role::watch;
  const auto [gone, fresh] = difference(kWritten, edit(kWritten, kFile, wanted));
  CHECK(gone == Lines{"role = \"added\"", "under = \"petals\" # so it seems"});
  CHECK(fresh == Lines{"role = \"watch\"", "# so it seems"});
}

TEST_CASE("a role that takes `under` gets the key after it") {
  std::string text = kWritten;
  text +=
      "[[region]]\nid = \"blot\"\nside = \"recto\"\nrole = \"watch\" # was it?\npolygon = [[1, "
      "1], [2, 1], [2, 2]]\n";
  Drawn wanted = drawn(text);
  wanted.regions[2].role = Role::added;
  wanted.regions[2].under = "petals";
  const std::string after = edit(text, kFile, wanted);
  CHECK(after.find("role = \"added\" # was it?\nunder = \"petals\"\npolygon") != std::string::npos);
}

TEST_CASE("corners, outlines and control points are set, moved and taken away") {
  Drawn wanted = drawn(kWritten);
  const Corners quad{Point{1, 2}, {3, 2}, {3, 4}, {1, 4}};
  wanted.target_corners[{"BT", Side::recto}] = quad;
  wanted.target_corners[{"AT", Side::recto}] = quad;
  wanted.outlines[{"BT", Side::verso}] = quad;
  wanted.outlines[{"BT", Side::recto}] = quad;
  wanted.control_points.erase({"AT", Side::recto});
  const std::string after = edit(kWritten, kFile, wanted);
  CHECK(after.find("corners.\"BT.recto\" = [ # upper\n  [1, 2], [3, 2], [3, 4], [1, 4]] # lower") !=
        std::string::npos);
  CHECK(after.find("corners.\"AT.recto\" = [[1, 2], [3, 2], [3, 4], [1, 4]]\n") !=
        std::string::npos);
  CHECK(after.find("id = \"BT\"\noutline.recto = ") != std::string::npos);
  CHECK(after.find("outline.verso = ") != std::string::npos);
  CHECK(after.find("control_points") == std::string::npos);
  CHECK(after.find("# helped") != std::string::npos);

  Drawn back = drawn(kWritten);
  const std::string restored = edit(after, kFile, back);
  CHECK(drawn(restored).control_points.size() == 1);
  CHECK(drawn(restored).outlines.empty());
}

TEST_CASE("every way TOML has of writing the same tables can be edited") {
  const auto spelling =
      GENERATE(as<std::string>{},
               // Dotted keys at the top, inline tables, an array of inline tables.
               R"(inkwane = 1
object.title = "x"
target.reference = "t.txt" # ours
stage = [{ id = "BT", recto = "a.tif" }, { id = "AT", recto = "b.tif", control_points = { recto = [[[1, 2], [3, 4]]] } }]
region = [ { id = "p", side = "recto", role = "added", under = "paper", polygon = [[1, 1], [5, 1], [5, 5]] } ] # one
)",
               // Sub-tables with headers of their own, spaces in keys, quoted keys.
               R"(inkwane = 1
[object]
title = "x"
[[stage]]
id = "BT"
recto = "a.tif"
[[stage]]
id = "AT"
recto = "b.tif"
[stage.control_points] # by hand
recto = [[[1, 2], [3, 4]]]
[[region]]
"id" = "p"
side = "recto"
role = "added"
  under   =   "paper"
"polygon" = [[1, 1], [5, 1], [5, 5]]
[target]
reference = "t.txt"
[target.corners]
)",
               // Everything in braces.
               R"(inkwane = 1
object = { title = "x" }
target = { reference = "t.txt", corners."BT.recto" = [[0, 0], [1, 0], [1, 1], [0, 1]] }
region = []
[[stage]]
id = "BT"
recto = "a.tif"
[[stage]]
id = "AT"
recto = "b.tif"
control_points = {}
)");
  const bool carriage = GENERATE(false, true), ends_in_line_end = GENERATE(true, false);
  std::string text = ends_in_line_end ? spelling : spelling.substr(0, spelling.size() - 1);
  if (carriage) text = with_line_ends(text, "\r\n");
  CAPTURE(text);
  Drawn wanted = drawn(text);
  const Corners quad{Point{1, 2}, {3, 2}, {3, 4}, {1, 4}};
  if (!wanted.regions.empty()) {
    wanted.regions[0].role = Role::ink;
    wanted.regions[0].name = "named";
    wanted.regions[0].polygon[0] = {0.5, 0.5};
  }
  wanted.regions.push_back(square("q"));
  wanted.regions.push_back(square("r"));
  wanted.target_corners = {{{"AT", Side::recto}, quad}, {{"BT", Side::recto}, quad}};
  wanted.outlines[{"AT", Side::recto}] = quad;
  wanted.control_points[{"AT", Side::recto}] = {{{5, 6}, {7, 8}}, {{9, 9}, {8, 8}}};
  const std::string after = edit(text, kFile, wanted);
  CHECK(edit(after, kFile, wanted) == after);
  CHECK(std::count(after.begin(), after.end(), '\r') ==
        (carriage ? std::count(after.begin(), after.end(), '\n') : 0));

  Drawn other = wanted;
  other.regions = {square("s")};
  CHECK(drawn(edit(after, kFile, other)).regions.size() == 1);

  Drawn none = wanted;
  none.regions.clear();
  none.outlines.clear();
  const std::string emptied = edit(after, kFile, none);
  CHECK(drawn(emptied).regions.empty());
  CHECK(drawn(emptied).target_corners.size() == 2);
}

TEST_CASE("a byte order mark and letters of several bytes do not shift the place of a change") {
  const std::string text =
      "\xEF\xBB\xBFinkwane = 1\n[object]\ntitle = \"ä\"\n[[stage]]\nid = \"BT\"\nrecto = "
      "\"a.tif\"\n[[region]]\nid = \"p\" \nname = \"日本🌸\" # 🌸 é\nside = \"recto\"\nrole = "
      "\"ink\"\npolygon = [[1, 1], [5, 1], [5, 5]]";
  Drawn wanted = drawn(text);
  wanted.regions[0].name = "n";
  wanted.regions.push_back(square("q"));
  const std::string after = edit(text, kFile, wanted);
  CHECK(after.find("name = \"n\" # 🌸 é\n") != std::string::npos);
}

TEST_CASE("what breaks a rule of treatment files is refused with the rule") {
  const auto refused = [](const Drawn& wanted) -> std::string {
    try {
      (void)edit(kWritten, kFile, wanted);
    } catch (const Error& error) {
      CHECK(error.code() == ExitCode::usage);
      return error.what();
    }
    return "accepted";
  };
  using Catch::Matchers::Contains;
  Drawn wanted = drawn(kWritten);
  wanted.regions[0].polygon = {{0, 0}, {9, 9}, {9, 0}, {0, 9}};
  CHECK_THAT(refused(wanted), Contains("crosses itself"));
  wanted = drawn(kWritten);
  wanted.regions.erase(wanted.regions.begin());  // though `line` lies on it
  CHECK_THAT(refused(wanted), Contains("names no region"));
  wanted = drawn(kWritten);
  wanted.regions.push_back(square("margin"));
  wanted.regions.push_back(square("margin"));
  CHECK_THAT(refused(wanted), Contains("stands twice"));
  wanted = drawn(kWritten);
  wanted.outlines[{"AT", Side::verso}] = {};
  CHECK_THAT(refused(wanted), Contains("has no scan of the verso"));
}
