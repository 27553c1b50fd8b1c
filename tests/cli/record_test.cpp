// Protects: the record goes whole through the program into results.json, its reminders are among
// the warnings, and a damp scan is never compared with a dry one in silence.
#include <algorithm>
#include <fstream>
#include <iterator>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "simulate/simulate.hpp"
#include "tests/cli/program.hpp"

using namespace inkwane::test;
using Json = nlohmann::json;

namespace {

std::string contents(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// A small, coarse treatment, BT and AT, made once.
const TemporaryFolder& sheet() {
  static const TemporaryFolder folder;
  static const bool made = [] {
    auto scene = inkwane::simulate::solids_scene(1);
    scene.scanner.dpi = 150;
    (void)inkwane::simulate::write_scene(scene, folder.path());
    return true;
  }();
  REQUIRE(made);
  return folder;
}

struct Assessed {
  int code = -1;
  Json results;
};

/// Assesses it with `keys` put into its AT stage and `tables` at the end.
Assessed assessed(const std::string& keys, const std::string& tables) {
  std::string toml = contents(sheet() / "treatment.toml");
  const std::string at = "id = \"AT\"\n";
  REQUIRE(toml.find(at) != std::string::npos);
  toml.insert(toml.find(at) + at.size(), keys);
  const auto file = sheet() / "case.toml";
  std::ofstream(file, std::ios::binary) << toml << tables;
  const TemporaryFolder out;
  const Outcome outcome = run_inkwane({"assess", file.string(), "-o", (out / "result").string()});
  INFO(outcome.err);
  REQUIRE(std::filesystem::exists(out / "result" / "results.json"));
  return {outcome.code, Json::parse(contents(out / "result" / "results.json"))};
}

std::ptrdiff_t count(const Json& warnings, const std::string& words) {
  return std::count_if(warnings.begin(), warnings.end(), [&words](const Json& warning) {
    return warning.get<std::string>().find(words) != std::string::npos;
  });
}

}  // namespace

TEST_CASE("a damp scan against a dry one is doubtful, and says so wherever they are compared") {
  const Json dry = assessed("", "").results;
  CHECK(count(dry.at("warnings"), "scanned damp") == 0);
  const Assessed damp = assessed("condition = \"damp\"\n", "");
  CHECK(damp.code == 1);
  CHECK(damp.results.at("doubtful") == true);
  CHECK(count(damp.results.at("warnings"), "BT was scanned dry and AT damp") == 1);
  for (const Json& scan : damp.results.at("scans")) {
    CHECK(count(scan.at("warnings"), "scanned damp") == (scan.at("stage") == "AT" ? 1 : 0));
  }
  for (const Json& region : damp.results.at("regions")) {
    for (const Json& change : region.at("changes"))
      CHECK(count(change.at("warnings"), "scanned dry and AT damp") == 1);
  }
  for (const Json& side : damp.results.at("sides")) {
    for (const Json& change : side.at("changes"))
      CHECK(count(change.at("warnings"), "scanned dry and AT damp") == 1);
  }
  // Only the warnings differ: water is not corrected for.
  CHECK(damp.results.at("regions").at(0).at("stages") == dry.at("regions").at(0).at("stages"));
}

TEST_CASE("steps, spot tests and reminders reach results.json") {
  const Json results =
      assessed(
          "kind = \"after\"\nstep = [{kind = \"bath\", solution = \"calcium hydroxide\", "
          "stock_ml = 0.1, tray_ml = 400, ph_in = 11.9}]\n",
          "\n[record]\npurpose = \"To take off colour added later.\"\n"
          "[[spot_test]]\nmedium = \"red\"\nliquid = \"calcium hydroxide\"\nph = 11.9\n")
          .results;
  const Json& record = results.at("record");
  CHECK(record.at("purpose") == "To take off colour added later.");
  CHECK(record.at("stages").at(1).at("kind") == "after");
  CHECK(record.at("stages").at(1).at("steps").at(0).at("tray_ml") == 400.0);
  CHECK(record.at("spot_tests").at(0).at("ph") == 11.9);
  const Json& warnings = results.at("warnings");
  CHECK(count(warnings, "Stage AT, step 1 (bath): Is the unit right?") == 1);
  CHECK(count(warnings, "No follow-up scan is recorded") == 1);
  CHECK(count(warnings, "No spot test") == 0);
}
