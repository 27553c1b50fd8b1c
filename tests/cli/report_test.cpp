// Protects: the report can be had again from what assess left, without the scans, the same to the
// byte; the client's copy holds no path and no hash; and nothing else is touched.
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

/// An assessment, made once, its scans gone.
const fs::path& assessment() {
  static const TemporaryFolder folder;
  static const fs::path made = [] {
    auto scene = inkwane::simulate::solids_scene(1);
    scene.scanner.dpi = 150;
    (void)inkwane::simulate::write_scene(scene, folder / "sheet");
    const Outcome outcome = run_inkwane(
        {"assess", (folder / "sheet/treatment.toml").string(), "-o", (folder / "result").string()});
    if (outcome.code > 1) throw std::runtime_error(outcome.err);
    fs::remove_all(folder / "sheet");
    return folder / "result";
  }();
  return made;
}

}  // namespace

TEST_CASE("the report is written again, the same to the byte, without the scans") {
  const TemporaryFolder out;
  const std::string page = contents(assessment() / "report.html"),
                    pdf = contents(assessment() / "report.pdf");
  REQUIRE(page.size() > 100'000);
  REQUIRE(pdf.starts_with("%PDF-1.7"));
  const Outcome outcome = run_inkwane({"report", assessment().string(), "-o", out.path().string()});
  CHECK(outcome.code <= 1);
  CHECK_THAT(outcome.out, Contains("report.pdf"));
  CHECK(contents(out / "report.html") == page);
  CHECK(contents(out / "report.pdf") == pdf);
}

TEST_CASE("the client's copy holds no path and no hash") {
  const TemporaryFolder out;
  CHECK(
      run_inkwane({"report", assessment().string(), "--client", "-o", out.path().string()}).code <=
      1);
  const std::string page = contents(out / "report.html");
  CHECK_THAT(contents(assessment() / "report.html"), Contains("bt-recto.tif"));
  CHECK_THAT(page, !Contains("bt-recto.tif") && !Contains("SHA-256") && !Contains(".tif"));
}

TEST_CASE("a folder that is no assessment is refused, and says so") {
  const TemporaryFolder folder;
  const Outcome none = run_inkwane({"report", folder.path().string()});
  CHECK(none.code == 3);
  CHECK_THAT(none.err, Contains("results.json"));
  std::ofstream(folder / "results.json") << "{}";
  CHECK(run_inkwane({"report", folder.path().string()}).code == 3);
  CHECK_FALSE(fs::exists(folder / "report.html"));
  const Outcome nowhere =
      run_inkwane({"report", assessment().string(), "-o", (folder / "nowhere").string()});
  CHECK(nowhere.code == 2);
  CHECK_THAT(nowhere.err, Contains("nowhere"));
}

TEST_CASE("a full disk leaves the report as it was") {
  const std::string page = contents(assessment() / "report.html"),
                    pdf = contents(assessment() / "report.pdf");
  const Outcome outcome = run_inkwane({"report", assessment().string()}, 50);
  CHECK(outcome.code == 4);
  CHECK(contents(assessment() / "report.html") == page);
  CHECK(contents(assessment() / "report.pdf") == pdf);
}
