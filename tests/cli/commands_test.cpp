// Protects: the commands' own contracts: help, version, exit codes, what new and demo write.
#include <fstream>

#include <catch2/catch.hpp>

#include <inkwane/treatment.hpp>

#include "tests/cli/program.hpp"

namespace fs = std::filesystem;
using Catch::Matchers::Contains;
using namespace inkwane::test;

TEST_CASE("help has an example and the exit codes, for every command") {
  CHECK(run_inkwane({"--help"}).code == 0);
  for (const std::string command :
       {"new", "vet", "assess", "gather", "compare", "report", "demo", "bath", "light"}) {
    const Outcome outcome = run_inkwane({command, "--help"});
    CHECK(outcome.code == 0);
    CHECK_THAT(outcome.out, Contains("Example") && Contains("Exit codes"));
  }
}

TEST_CASE("version") {
  const Outcome outcome = run_inkwane({"--version"});
  CHECK(outcome.code == 0);
  CHECK_THAT(outcome.out, Catch::Matchers::StartsWith("inkwane "));
}

TEST_CASE("a wrong command line is a usage error") {
  CHECK(run_inkwane({}).code == 2);
  CHECK(run_inkwane({"measure"}).code == 2);
  CHECK(run_inkwane({"assess"}).code == 2);
  CHECK(run_inkwane({"assess", "a.toml", "--threads", "0"}).code == 2);
  CHECK(run_inkwane({"assess", "/nowhere/treatment.toml"}).code == 2);
}

TEST_CASE("new writes a file that reads as it stands, once") {
  const TemporaryFolder folder;
  const fs::path file = folder / "sheet/treatment.toml";
  CHECK(run_inkwane({"new", (folder / "sheet").string()}).code == 0);
  CHECK(inkwane::read_treatment(file).stages.size() == 2);
  std::ofstream(file) << "mine";
  const Outcome again = run_inkwane({"new", (folder / "sheet").string()});
  CHECK(again.code == 2);
  CHECK_THAT(again.err, Contains("treatment.toml"));
  std::string text;
  std::ifstream(file) >> text;
  CHECK(text == "mine");
}

TEST_CASE("demo refuses a folder that is not empty") {
  const TemporaryFolder folder;
  std::ofstream(folder / "mine") << "mine";
  CHECK(run_inkwane({"demo", folder.path().string()}).code == 2);
}

TEST_CASE("quiet prints nothing") {
  const TemporaryFolder folder;
  const Outcome outcome = run_inkwane({"new", "--quiet", (folder / "sheet").string()});
  CHECK(outcome.code == 0);
  CHECK(outcome.out.empty());
  CHECK(outcome.err.empty());
}
