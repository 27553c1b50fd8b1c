// Protects: `inkwane bath` as a person at the sink and a program read it: figures, warnings,
// cautions, exit codes.
#include <algorithm>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/cli/program.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using namespace inkwane::test;

namespace {

std::vector<std::string> worked(const std::vector<std::string>& more = {}) {
  std::vector<std::string> out{
      "bath", "--solution", "calcium hydroxide", "--stock-g-per-l", "1.6", "--temperature-c", "25"};
  out.insert(out.end(), more.begin(), more.end());
  return out;
}

}  // namespace

TEST_CASE("bath: the worked example in words") {
  const Outcome outcome = run_inkwane(worked({"--parts", "1:3", "--tray-ml", "400"}));
  CHECK(outcome.code == 0);
  CHECK(outcome.err.empty());
  CHECK_THAT(outcome.out, Contains("0.400 (0.366 to 0.434) g/L") && Contains("5.40 (") &&
                              Contains("216 (") && Contains("0.160 (") &&
                              Contains("100 mL of stock and 300 mL of water"));
  CHECK_THAT(outcome.out, Contains("pH, calculated          11.95 (11.90 to 12.00)"));
  CHECK_THAT(outcome.out, Contains("Dilute is not mild") && Contains("goggles") &&
                              Contains("the conservator\n    decides"));
  CHECK_THAT(outcome.out, !Contains("safe to") && !Contains("is safe"));
}

TEST_CASE("bath: the same as JSON, with ranges") {
  const Outcome outcome = run_inkwane(worked({"--stock-ml", "100", "--tray-ml", "400", "--json"}));
  REQUIRE(outcome.code == 0);
  const auto json = nlohmann::json::parse(outcome.out);
  CHECK(json.at("inkwane").at("format") == 1);
  CHECK(json.at("command") == "bath");
  CHECK(json.at("dilution") == 4.0);
  CHECK(json.at("g_per_l") == 0.4);
  CHECK(json.at("g_per_l_ci95").size() == 2);
  CHECK_THAT(json.at("mmol_per_l").get<double>(), WithinAbs(5.40, 5e-3));
  CHECK_THAT(json.at("calcium_mg_per_l").get<double>(), WithinAbs(216, 0.5));
  CHECK(json.at("tray_g") == 0.16);
  CHECK_THAT(json.at("ph").get<double>(), WithinAbs(11.95, 0.0075));
  CHECK(json.at("ph_basis") == "calculated");
  CHECK(json.at("ph_measured").is_null());
  CHECK(json.at("cautions").size() >= 8);
  CHECK(json.at("doubtful") == false);
}

TEST_CASE("bath: a measured pH stands before the calculated one") {
  const Outcome outcome = run_inkwane(
      worked({"--parts", "1:3", "--measured-ph", "11.2", "--ph-method", "meter", "--json"}));
  REQUIRE(outcome.code == 0);
  const auto json = nlohmann::json::parse(outcome.out);
  CHECK(json.at("ph") == 11.2);
  CHECK(json.at("ph_basis") == "measured");
  CHECK_THAT(json.at("ph_calculated").get<double>(), WithinAbs(11.95, 0.0075));
}

TEST_CASE("bath: what cannot be is refused in one sentence") {
  for (const auto& [more, words] : std::vector<std::pair<std::vector<std::string>, std::string>>{
           {{"--stock-ml", "500", "--tray-ml", "400"}, "do not fit"},
           {{"--want-g-per-l", "2"}, "stronger stock"},
           {{"--parts", "one to three"}, "such as 1:3"},
           {{"--ph-method", "meter"}, "give both"}}) {
    const Outcome outcome = run_inkwane(worked(more));
    CHECK(outcome.code == 2);
    CHECK(outcome.out.empty());
    CHECK_THAT(outcome.err, Contains(words));
    CHECK(std::count(outcome.err.begin(), outcome.err.end(), '\n') == 1);
  }
  CHECK(run_inkwane({"bath", "--stock-g-per-l", "1.6"}).code == 2);
  CHECK(run_inkwane({"bath", "--solution", "calcium hydroxide"}).code == 2);
  CHECK(run_inkwane({"bath", "--solution", "vinegar", "--stock-saturated"}).code == 2);
}

TEST_CASE("bath: a slip of units is questioned and the code says doubtful") {
  const Outcome outcome = run_inkwane(worked({"--stock-ml", "0.1", "--tray-ml", "400"}));
  CHECK(outcome.code == 1);
  CHECK_THAT(outcome.out, Contains("Is the unit right?"));
}

TEST_CASE("bath: quiet prints nothing but what JSON was asked for") {
  CHECK(run_inkwane(worked({"--quiet"})).out.empty());
  CHECK_FALSE(run_inkwane(worked({"--quiet", "--json"})).out.empty());
}
