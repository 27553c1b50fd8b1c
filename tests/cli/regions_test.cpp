// Protects: regions go out to other programs and come back through the command line, and a slip is
// met with its exit code and leaves the treatment file as it was.
#include <fstream>

#include <catch2/catch.hpp>
#include <opencv2/imgcodecs.hpp>

#include <inkwane/treatment.hpp>

#include "tests/cli/program.hpp"
#include "treatment/save.hpp"

using namespace inkwane;
using Catch::Matchers::Contains;
using test::run_inkwane;
using treatment::read_text;

namespace {

struct Sheet {
  test::TemporaryFolder folder;
  std::string file = (folder / "treatment.toml").string();

  Sheet() {
    std::ofstream(file) << R"(inkwane = 1
[object]
title = "x"
[[stage]]
id = "BT"
recto = "bt.tif"

[[region]] # mine
id = "petals"
name = "red of the petals"
side = "recto"
role = "ink"
polygon = [[9.5, 9.5], [29.5, 9.5], [29.5, 19.5], [9.5, 19.5]]
)";
    REQUIRE(cv::imwrite((folder / "bt.tif").string(), cv::Mat(80, 100, CV_8UC3, cv::Scalar(9))));
  }
};

}  // namespace

TEST_CASE("regions that were exported can be imported into a file that lost them") {
  const std::string name = GENERATE("regions.json", "regions.svg");
  const Sheet sheet;
  const std::string before = read_text(sheet.file);
  const std::string out = (sheet.folder / name).string();
  REQUIRE(run_inkwane({"regions", "export", sheet.file, "-o", out}).code == 0);
  CHECK(run_inkwane({"regions", "export", sheet.file, "-o", out}).code == 2);  // not over a file

  CHECK(run_inkwane({"regions", "import", out, sheet.file}).code == 2);  // the id is there already
  CHECK(read_text(sheet.file) == before);

  std::ofstream(sheet.file) << before.substr(0, before.find("[[region]]"));
  const auto imported = run_inkwane({"regions", "import", out, sheet.file});
  CHECK(imported.code == 0);
  CHECK_THAT(imported.out, Contains("1 regions added"));
  const Treatment after = read_treatment(sheet.file);
  REQUIRE(after.regions.size() == 1);
  CHECK(after.regions[0].id == "petals");
  CHECK(after.regions[0].name == "red of the petals");
  CHECK(after.regions[0].polygon[0].x == 9.5);
}

TEST_CASE("a slip while importing is named and changes nothing") {
  const Sheet sheet;
  const std::string before = read_text(sheet.file);
  const auto import = [&](const std::string& text, const std::vector<std::string>& more = {}) {
    const std::string file = (sheet.folder / "drawn").string();
    std::ofstream(file) << text;
    std::vector<std::string> arguments{"regions", "import", file, sheet.file};
    arguments.insert(arguments.end(), more.begin(), more.end());
    return run_inkwane(arguments);
  };
  const std::string svg =
      "<svg xmlns='http://www.w3.org/2000/svg'><rect x='1' y='1' width='9' height='9'/></svg>";
  CHECK_THAT(import(svg).err, Contains("--side"));
  CHECK_THAT(import(svg, {"--side", "recto"}).err, Contains("--role"));
  const auto verso = import(svg, {"--side", "verso", "--role", "paper"});
  CHECK(verso.code == 2);
  CHECK_THAT(verso.err, Contains("verso, which no stage has a scan of"));
  CHECK(import("", {"--side", "recto", "--role", "paper"}).code == 2);
  CHECK(import("<svg/>", {"--side", "recto", "--role", "paper"}).code == 2);
  const auto large =
      import("<svg xmlns='http://www.w3.org/2000/svg'><rect width='500' height='9'/></svg>",
             {"--side", "recto", "--role", "paper"});
  CHECK(large.code == 2);
  CHECK_THAT(large.err, Contains("leaves the scan of 100 × 80"));
  CHECK(read_text(sheet.file) == before);

  CHECK(import(svg, {"--side", "recto", "--role", "paper"}).code == 0);
  CHECK_THAT(read_text(sheet.file), Contains("[[region]] # mine") && Contains("id = \"region-1\""));
  CHECK(run_inkwane({"regions", "import", "/nowhere", sheet.file}).code == 2);
  CHECK(run_inkwane({"regions"}).code == 2);
}

TEST_CASE("the desk refuses what it cannot serve") {
  const Sheet sheet;
  CHECK(run_inkwane({"desk", (sheet.folder / "none.toml").string(), "--no-open"}).code == 2);
  CHECK(run_inkwane({"desk", sheet.file, "--no-open", "--port", "80"}).code == 2);
}
