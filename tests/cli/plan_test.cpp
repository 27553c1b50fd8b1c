// Protects: `inkwane plan` tells what an assessment's course holds, only where it belongs to the
// treatment file and scans as they are now, with cautions and without a word of safety.
#include <fstream>
#include <iterator>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "simulate/simulate.hpp"
#include "tests/cli/program.hpp"

using Catch::Matchers::Contains;
using namespace inkwane::test;
using Json = nlohmann::json;

namespace {

/// Three stages of a small, coarse sheet, assessed once; the last stage is damp in damp.toml.
const TemporaryFolder& sheet() {
  static const TemporaryFolder folder;
  static const bool made = [] {
    auto scene = inkwane::simulate::solids_scene(2);
    scene.scanner.dpi = 150;
    scene.has_verso = false;
    std::erase_if(scene.regions, [](const auto& region) { return region.side == "verso"; });
    scene.stages = {"BT", "DT1", "AT"};
    for (auto& [ink, fate] : scene.fates) {
      fate.bleeds_through.clear();
      fate.kept["DT1"] = 0.5 + 0.5 * fate.kept["AT"];
    }
    for (const char* stage : {"DT1", "AT"}) scene.steps[stage] = {{"bath", "water", 30, ""}};
    (void)inkwane::simulate::write_scene(scene, folder.path());
    return run_inkwane({"assess", (folder / "treatment.toml").string(), "-q"}).code == 0;
  }();
  REQUIRE(made);
  return folder;
}

std::string treatment() {
  return (sheet() / "treatment.toml").string();
}

std::string contents(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

TEST_CASE("plan: the course in words") {
  const Outcome outcome = run_inkwane({"plan", treatment()});
  INFO(outcome.err);
  CHECK(outcome.code == 0);
  CHECK_THAT(outcome.out, Contains("DT1 → AT") && Contains("added colour gone (95 %)") &&
                              Contains("one more like it") && Contains("the conservator decides"));
  CHECK_THAT(outcome.out, Contains("advice only") || Contains("CANNOT TELL"));
  CHECK_THAT(outcome.out, !Contains("is safe") && !Contains("safe to"));
}

TEST_CASE("plan: the same as JSON, which is that of results.json") {
  const Outcome outcome = run_inkwane({"plan", treatment(), "--json", "-q"});
  CHECK(outcome.code == 0);
  const Json plan = Json::parse(outcome.out);
  CHECK(plan.at("command") == "plan");
  CHECK(plan.at("course") ==
        Json::parse(contents(sheet() / "assessment" / "results.json")).at("course"));
  CHECK(plan.at("course").at("points").size() == 3);
  CHECK(plan.at("course").at("points").at(2).at("minutes") == 60);
  CHECK(plan.at("course").at("cautions").size() >= 4);
}

TEST_CASE("plan: an assessment that is not of this treatment as it is now is refused") {
  const auto assessment = (sheet() / "assessment").string();
  const auto edited = sheet() / "edited.toml";
  std::ofstream(edited, std::ios::binary) << contents(treatment()) << "\n# one more word\n";
  const Outcome other = run_inkwane({"plan", edited.string(), "-o", assessment});
  CHECK(other.code == 2);
  CHECK_THAT(other.err, Contains("edited.toml") && Contains("again"));

  const Outcome none = run_inkwane({"plan", treatment(), "-o", (sheet() / "nowhere").string()});
  CHECK(none.code == 2);
  CHECK_THAT(none.err, Contains("nowhere") && Contains("inkwane assess"));

  const TemporaryFolder copy;
  std::filesystem::copy(sheet().path(), copy.path(), std::filesystem::copy_options::recursive);
  CHECK(run_inkwane({"plan", (copy / "treatment.toml").string()}).code == 0);
  std::ofstream(copy / "scans" / "at-recto.tif", std::ios::app) << "scanned again";
  const Outcome scanned = run_inkwane({"plan", (copy / "treatment.toml").string()});
  CHECK(scanned.code == 2);
  CHECK_THAT(scanned.err, Contains("at-recto.tif"));
}

TEST_CASE("plan: a damp stage is marked and nothing is concluded from it") {
  std::string toml = contents(treatment());
  const std::string at = "id = \"AT\"\n";
  toml.insert(toml.find(at) + at.size(), "condition = \"damp\"\n");
  const auto file = sheet() / "damp.toml";
  std::ofstream(file, std::ios::binary) << toml;
  const auto assessment = (sheet() / "damp").string();
  CHECK(run_inkwane({"assess", file.string(), "-o", assessment, "-q"}).code == 1);
  const Outcome outcome = run_inkwane({"plan", file.string(), "-o", assessment});
  CHECK(outcome.code == 1);
  CHECK_THAT(outcome.out, Contains("DAMP OR WET: not counted") && Contains("CANNOT TELL") &&
                              Contains("scan the sheet dry"));
}
