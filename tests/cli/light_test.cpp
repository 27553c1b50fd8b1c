// Protects: `inkwane light` as a person at the bench and a program read it.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/cli/program.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using namespace inkwane::test;

namespace {

std::vector<std::string> worked(const std::vector<std::string>& more = {}) {
  std::vector<std::string> out{"light", "--w-per-m2", "50", "--peak-nm", "455", "--hours", "4"};
  out.insert(out.end(), more.begin(), more.end());
  return out;
}

}  // namespace

TEST_CASE("light: the worked example in words") {
  const Outcome outcome = run_inkwane(worked());
  CHECK(outcome.code == 0);
  CHECK_THAT(outcome.out,
             Contains("72.0 (64.8 to 79.2) J/cm²") && Contains("720 (648 to 792) kJ/m²"));
  CHECK_THAT(outcome.out, Contains("6557 (") && Contains("Lux misleads in the blue"));
  CHECK_THAT(outcome.out, Contains("shield the emitters") && Contains("mains"));
  CHECK_THAT(outcome.out, !Contains("is safe") && !Contains("safe to"));
}

TEST_CASE("light: the same as JSON, with ranges, hazard and an earlier dose") {
  const Outcome outcome = run_inkwane(worked({"--earlier-w-per-m2", "100", "--earlier-hours", "2",
                                              "--emitter-w-per-m2-sr", "20000", "--json"}));
  REQUIRE(outcome.code == 0);
  const auto json = nlohmann::json::parse(outcome.out);
  CHECK(json.at("j_per_cm2") == 72.0);
  CHECK(json.at("j_per_m2") == 720'000.0);
  CHECK_THAT(json.at("umol_per_j").get<double>(), WithinAbs(3.804, 6e-4));
  CHECK_THAT(json.at("ev_per_photon").get<double>(), WithinAbs(2.725, 5e-4));
  CHECK_THAT(json.at("lux_hours").get<double>(), WithinAbs(6557, 1));
  CHECK(json.at("reach_j_per_cm2") == 72.0);
  CHECK_THAT(json.at("reach_seconds").get<double>(), WithinAbs(14'400, 1e-6));
  const auto& hazard = json.at("blue_hazard");
  CHECK_THAT(hazard.at("sheet").at("w_per_m2_sr").get<double>(), WithinAbs(11.46, 0.01));
  CHECK(hazard.at("sheet").at("limit_seconds").is_null());
  CHECK_THAT(hazard.at("emitter").at("limit_seconds").get<double>(), WithinAbs(1e6 / 18'000, 0.01));
  CHECK(json.at("cautions").size() >= 6);
}

TEST_CASE("light: what cannot be is refused, what is odd is questioned") {
  CHECK(run_inkwane({"light", "--peak-nm", "455"}).code == 2);
  CHECK(run_inkwane({"light", "--w-per-m2", "50", "--peak-nm", "254"}).code == 2);
  CHECK(run_inkwane(worked({"--minutes", "5"})).code == 2);
  CHECK(run_inkwane(worked({"--earlier-w-per-m2", "50"})).code == 2);
  CHECK(run_inkwane(worked({"--sheet", "damp"})).code == 2);
  const Outcome outcome =
      run_inkwane({"light", "--w-per-m2", "50000", "--peak-nm", "455", "--minutes", "240"});
  CHECK(outcome.code == 1);
  CHECK_THAT(outcome.out, Contains("Is the unit right?"));
}
