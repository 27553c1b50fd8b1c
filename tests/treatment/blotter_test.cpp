// Protects: a [[blotter]] is read as written, and slips in it are refused by line and key.
#include <catch2/catch.hpp>

#include "tests/treatment/text.hpp"

using namespace inkwane;
using Catch::Matchers::Contains;
using test::kTwoStages;
using test::read;
using test::refusal;

namespace {

const std::string kBlotter = R"([[blotter]]
id = "first"
stage = "AT"
scan = "blotter.tif"
blank = [[1, 1], [9, 1], [9, 9]]
)";

}  // namespace

TEST_CASE("a blotter is read as written") {
  const Treatment t =
      read(kTwoStages + kBlotter + "polygon = [[20, 1], [90, 1], [90, 90]]\nhas_target = false\n");
  REQUIRE(t.blotters.size() == 1);
  const BlotterScan& blotter = t.blotters.front();
  CHECK(blotter.id == "first");
  CHECK(blotter.stage == "AT");
  CHECK(blotter.scan.filename() == "blotter.tif");
  CHECK(blotter.blank.size() == 3);
  CHECK(blotter.polygon.size() == 3);
  CHECK_FALSE(blotter.has_target);
  CHECK(read(kTwoStages + kBlotter).blotters.front().has_target);
}

TEST_CASE("slips in a blotter are refused") {
  CHECK_THAT(refusal(kTwoStages + kBlotter + kBlotter), Contains("stands twice"));
  CHECK_THAT(refusal(kTwoStages + "[[blotter]]\nid = \"a\"\nstage = \"AT\"\nscan = \"b.tif\"\n"),
             Contains("blank"));
  CHECK_THAT(refusal(kTwoStages + "[[blotter]]\nid = \"a\"\nstage = \"DT\"\nscan = \"b.tif\"\n"
                                  "blank = [[1, 1], [9, 1], [9, 9]]\n"),
             Contains("names no stage"));
  CHECK_THAT(refusal(kTwoStages + kBlotter + "polygon = [[0, 0], [9, 9], [9, 0], [0, 9]]\n"),
             Contains("crosses itself"));
  CHECK_THAT(refusal(kTwoStages + kBlotter + "colour = 1\n"), Contains("colour"));
  CHECK_THAT(refusal(kTwoStages + kBlotter + "has_target = \"no\"\n"), Contains("true or false"));
}
