// Protects: many treatments in one call: each is written in its own place, a bad one stops no
// other, the table and the CSV hold them all, and the exit code is the highest of any; and the
// documented recipe for GNU parallel does what it says.
#include <algorithm>
#include <fstream>
#include <iterator>

#include <catch2/catch.hpp>

#include "simulate/simulate.hpp"
#include "tests/cli/program.hpp"

namespace fs = std::filesystem;
using Catch::Matchers::Contains;
using namespace inkwane::test;

namespace {

std::string contents(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

std::size_t rows(const fs::path& csv) {
  const std::string text = contents(csv);
  std::size_t count = 0;
  for (auto at = text.find("\r\n"); at != std::string::npos; at = text.find("\r\n", at + 2)) {
    ++count;
  }
  return count;
}

/// Three treatments of one sheet: a and b good, broken with an unknown key.
struct Sheets {
  Sheets() {
    auto scene = inkwane::simulate::solids_scene(1);
    scene.scanner.dpi = 150;
    (void)inkwane::simulate::write_scene(scene, folder / "a");
    for (const char* name : {"b", "broken"}) {
      fs::copy(folder / "a", folder / name, fs::copy_options::recursive);
    }
    std::ofstream(file("broken"), std::ios::app) << "\n[colour]\n";
  }
  [[nodiscard]] fs::path file(const std::string& name) const {
    return folder / name / "treatment.toml";
  }
  [[nodiscard]] std::vector<std::string> arguments() const {
    return {"assess", file("a").string(), file("broken").string(), file("b").string()};
  }
  TemporaryFolder folder;
};

const Sheets& sheets() {
  static const Sheets made;
  return made;
}

std::vector<std::string> operator+(std::vector<std::string> one,
                                   const std::vector<std::string>& other) {
  one.insert(one.end(), other.begin(), other.end());
  return one;
}

}  // namespace

TEST_CASE("a collection goes on past a bad treatment and tells of all") {
  const TemporaryFolder out;
  const std::string place = (out / "all").string();
  const Outcome one = run_inkwane({"assess", sheets().file("a").string(), "-o", place + "-one"});
  REQUIRE(one.code <= 1);

  const Outcome many =
      run_inkwane(sheets().arguments() + std::vector<std::string>{"--jobs", "2", "-o", place});
  INFO(many.err << many.out);
  CHECK(many.code == 2);  // the highest of any
  CHECK_THAT(many.err, Contains("broken/treatment.toml") && Contains("colour"));
  CHECK(std::count(many.err.begin(), many.err.end(), '\n') == 1);
  CHECK_THAT(many.out, Contains("a/treatment.toml") && Contains("b/treatment.toml") &&
                           Contains("broken/treatment.toml") && Contains("collection.csv"));
  // The same numbers as alone, whatever ran beside it.
  for (const char* name : {"a", "b"}) {
    const fs::path folder = out / "all" / name;
    CHECK(contents(folder / "regions.csv") == contents(out / "all-one" / "regions.csv"));
    CHECK(fs::exists(folder / "report.pdf"));
  }
  CHECK_FALSE(fs::exists(out / "all/broken"));

  const fs::path csv = out / "all/collection.csv";
  const std::size_t regions = rows(out / "all-one/regions.csv") - 1;
  CHECK(rows(csv) == 1 + 2 * regions + 1);
  CHECK_THAT(contents(csv), Catch::Matchers::StartsWith("treatment,assessment,"));

  SECTION("the table can be had again from the folders") {
    const fs::path again = out / "again.csv";
    const Outcome gathered = run_inkwane(
        {"gather", place + "/a", place + "/b", place + "/broken", "--csv", again.string()});
    CHECK(gathered.code == 3);  // of a folder without an assessment
    CHECK(rows(again) == 1 + 2 * regions + 1);
  }
  SECTION("and is replaced by the next, unlike a file of another kind") {
    const auto to = [&](const fs::path& file) {
      return run_inkwane({"gather", place + "/a", "--csv", file.string()}).code;
    };
    CHECK(to(csv) == one.code);
    CHECK(rows(csv) == 1 + regions);
    std::ofstream(out / "mine.csv") << "mine\n";
    CHECK(to(out / "mine.csv") == 2);
    CHECK(contents(out / "mine.csv") == "mine\n");
  }
}

TEST_CASE("two treatments are never written into one folder") {
  const TemporaryFolder out;
  const std::string file = sheets().file("a").string();
  const Outcome twice = run_inkwane({"assess", file, file, "-o", (out / "all").string()});
  CHECK(twice.code == 2);
  CHECK_THAT(twice.err, Contains("would both be written"));
  CHECK(fs::is_empty(out.path()));

  // Two in one folder, without -o: told apart by their names.
  const TemporaryFolder shared;
  for (const char* name : {"one.toml", "two.toml"}) std::ofstream(shared / name) << "inkwane = 1\n";
  const Outcome outcome =
      run_inkwane({"assess", (shared / "one.toml").string(), (shared / "two.toml").string(),
                   "--csv", (out / "all.csv").string()});
  CHECK(outcome.code == 2);  // both lack a title
  CHECK_THAT(contents(out / "all.csv"), Contains("assessment-one") && Contains("assessment-two"));
}

TEST_CASE("the recipe for GNU parallel") {
  // As it stands in docs/collections.md, between its marks.
  const std::string text = contents(fs::path(INKWANE_SOURCE) / "docs/collections.md");
  const std::string mark = "```sh\n# with GNU parallel\n";
  const auto start = text.find(mark);
  REQUIRE(start != std::string::npos);
  const std::string recipe = text.substr(start + 6, text.find("```", start + 6) - start - 6);

  const TemporaryFolder work;
  fs::create_directories(work / "sheets");
  for (const char* name : {"a", "broken"}) {
    fs::copy(sheets().folder / name, work / "sheets" / name, fs::copy_options::recursive);
  }
  const fs::path script = work / "recipe.sh";
  std::ofstream(script) << "cd '" << work.path().string() << "'\nPATH='"
                        << fs::path(INKWANE_PROGRAM).parent_path().string() << "':$PATH\n"
                        << recipe;
  const Outcome outcome = run("/bin/bash", {script.string()});
  INFO(outcome.err << outcome.out);
  CHECK_THAT(contents(work / "jobs.log"), Contains("sheets/broken/treatment.toml"));
  CHECK(fs::exists(work / "sheets/a/assessment/report.html"));
  CHECK_FALSE(fs::exists(work / "sheets/broken/assessment"));
  CHECK(rows(work / "collection.csv") > 2);
}
