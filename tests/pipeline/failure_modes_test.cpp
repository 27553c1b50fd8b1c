// Protects: what goes wrong between stages is told by the whole program, on a simulated case beyond
// each limit, and none of it on the same sheet scanned as it should be.
#include <algorithm>
#include <fstream>
#include <iterator>

#include <catch2/catch.hpp>
#include <opencv2/imgcodecs.hpp>

#include <inkwane/assess.hpp>
#include <inkwane/error.hpp>

#include "simulate/simulate.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using Catch::Matchers::Contains;
namespace fs = std::filesystem;

namespace {

std::string contents(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

std::string replaced(std::string text, const std::string& what, const std::string& with) {
  const auto at = text.find(what);
  REQUIRE(at != std::string::npos);
  return text.replace(at, what.size(), with);
}

/// Small and coarse; the scanner does not drift unless a test makes it.
simulate::Scene plain_scene() {
  auto scene = simulate::solids_scene(1);
  scene.scanner.dpi = 150;
  scene.scanner.drift = 0;
  scene.deformation["AT"] = {1.002, 1.001, 0.1, 0.5, 1, 0.5};
  scene.paper.toning.clear();
  scene.fates["added-red"].bleeds_through.clear();
  return scene;
}

/// A simulated treatment on disk.
struct Sheet {
  explicit Sheet(const simulate::Scene& scene) : truth(write_scene(scene, folder.path())) {
    toml = contents(folder / "treatment.toml");
  }
  test::TemporaryFolder folder;
  simulate::Truth truth;
  std::string toml;

  [[nodiscard]] results::Results assess_as(const std::string& text,
                                           const fs::path& output = {}) const {
    std::ofstream(folder / "case.toml", std::ios::binary) << text;
    const test::TemporaryFolder out;
    AssessOptions options;
    options.output = output.empty() ? out / "result" : output;
    return assess(read_treatment(folder / "case.toml"), options);
  }
  /// With its AT recto scan changed: encoded values times `gain`, saved without a profile.
  [[nodiscard]] std::string with_gain(double gain) const {
    const cv::Mat scan = cv::imread((folder / "scans/at-recto.tif").string(), cv::IMREAD_UNCHANGED);
    cv::imwrite(
        (folder / "changed.tif").string(), scan * gain,
        {cv::IMWRITE_TIFF_RESUNIT, 2, cv::IMWRITE_TIFF_XDPI, 150, cv::IMWRITE_TIFF_YDPI, 150});
    return replaced(toml, "scans/at-recto.tif", "changed.tif");
  }
};

const Sheet& plain() {
  static const Sheet sheet(plain_scene());
  return sheet;
}
const results::Results& plain_results() {
  static const results::Results results = plain().assess_as(plain().toml);
  return results;
}

const results::Scan& scan_of(const results::Results& results, const std::string& stage, Side side,
                             int repeat = 0) {
  const auto found =
      std::find_if(results.scans.begin(), results.scans.end(), [&](const results::Scan& scan) {
        return scan.stage == stage && scan.side == side && scan.repeat == repeat;
      });
  REQUIRE(found != results.scans.end());
  return *found;
}

int said(const std::vector<std::string>& warnings, const std::string& words) {
  return static_cast<int>(std::count_if(
      warnings.begin(), warnings.end(),
      [&words](const std::string& warning) { return warning.find(words) != std::string::npos; }));
}

const results::Region& region_of(const results::Results& results, const std::string& id) {
  return *std::find_if(results.regions.begin(), results.regions.end(),
                       [&id](const results::Region& region) { return region.id == id; });
}

double half_width(const results::Results& results, const std::string& id) {
  const auto& interval = *region_of(results, id).changes.at(0).dE00_ci95;
  return (interval[1] - interval[0]) / 2;
}

}  // namespace

TEST_CASE("a sheet scanned as it should be is told nothing of the kind") {
  for (const results::Scan& scan : plain_results().scans) {
    for (const std::string& warning : scan.warnings) {
      INFO(warning);
      for (const char* words :
           {"moved by", "profile", "damp", "backing", "measures", "cockled", "sharpened", "ramp"})
        CHECK(warning.find(words) == std::string::npos);
    }
    CHECK(scan.profile_sha256.size() == 64);
  }
  CHECK(said(plain_results().warnings, "edition") == 0);
  CHECK_FALSE(plain_results().repeatability);
}

TEST_CASE("a scanner that drifts is corrected, its intervals widened, and refused beyond 8") {
  const auto results = plain().assess_as(plain().with_gain(0.95));
  const results::Scan& scan = scan_of(results, "AT", Side::recto);
  CHECK(said(scan.warnings, "the fit to the target corrects it") == 1);
  // The profile went with the change; a stripped profile alone is no drift.
  CHECK(said(scan.warnings, "stripped") == 1);
  CHECK(half_width(results, "red") > half_width(plain_results(), "red"));
  CHECK(*region_of(results, "red").changes[0].dE00 ==
        Approx(*region_of(plain_results(), "red").changes[0].dE00).margin(0.3));

  const auto stripped = plain().assess_as(plain().with_gain(1));
  CHECK(said(scan_of(stripped, "AT", Side::recto).warnings, "stripped") == 1);
  CHECK(said(scan_of(stripped, "AT", Side::recto).warnings, "moved by") == 0);

  try {
    (void)plain().assess_as(plain().with_gain(0.8));
    FAIL("not refused");
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::scan);
    CHECK_THAT(error.what(), Contains("changed.tif") && Contains("more than 8"));
  }
}

TEST_CASE("a damp sheet, another backing, a stretched and a cockled sheet are told") {
  auto scene = plain_scene();
  SECTION("damp") {
    scene.paper.darkening["AT"] = 0.1;
    scene.paper.show_through_at["AT"] = 0.09;
    const Sheet damp(scene);
    const auto results = damp.assess_as(damp.toml);
    CHECK(said(scan_of(results, "AT", Side::recto).warnings, "was the sheet damp?") +
              said(scan_of(results, "AT", Side::verso).warnings, "was the sheet damp?") >=
          1);
    const auto declared =
        damp.assess_as(replaced(damp.toml, "id = \"AT\"\n", "id = \"AT\"\ncondition = \"damp\"\n"));
    for (const results::Scan& scan : declared.scans)
      CHECK(said(scan.warnings, "was the sheet damp?") == 0);
  }
  SECTION("a darker backing") {
    scene.paper.show_through = 0.05;
    scene.paper.darkening["AT"] = 0.02;
    scene.paper.show_through_at["AT"] = 0.005;
    const Sheet dark(scene);
    const auto results = dark.assess_as(dark.toml);
    CHECK(said(scan_of(results, "AT", Side::recto).warnings, "the backing was darker") +
              said(scan_of(results, "AT", Side::verso).warnings, "the backing was darker") >=
          1);
  }
  SECTION("stretched and cockled") {
    scene.deformation["AT"] = {1.01, 1.001, 0.8, 0.5, 1, 0.5};
    const Sheet moved(scene);
    const auto results = moved.assess_as(moved.toml);
    const auto& warnings = scan_of(results, "AT", Side::recto).warnings;
    CHECK(said(warnings, "took up or gave off water") == 1);
    CHECK(said(warnings, "cockled") == 1);
  }
}

TEST_CASE("repeats are averaged, each keeps its entry, and their spread is the repeatability") {
  auto scene = plain_scene();
  scene.scanner.drift = 0.5;
  scene.has_verso = false;
  scene.stages = {"BT", "RB", "AT"};  // RB: the sheet as before, laid down again
  scene.deformation["RB"] = {1, 1, 0, -0.4, 0.6, -0.5};
  std::erase_if(scene.regions, [](const auto& region) { return region.side == "verso"; });
  const Sheet sheet(scene);
  std::string toml =
      replaced(sheet.toml, "\n[[stage]]\nid = \"RB\"\nrecto = \"scans/rb-recto.tif\"\n", "");
  toml = replaced(toml, "recto = \"scans/bt-recto.tif\"",
                  "recto = [\"scans/bt-recto.tif\", \"scans/rb-recto.tif\"]");
  const test::TemporaryFolder out;
  const auto results = sheet.assess_as(toml, out / "result");
  REQUIRE(results.scans.size() == 3);
  const results::Scan& second = scan_of(results, "BT", Side::recto, 2);
  CHECK(scan_of(results, "BT", Side::recto, 1).sha256 != second.sha256);
  CHECK(second.registration->to == "BT");
  CHECK(*second.registration->residual_mm_median < 0.05);
  CHECK(second.target.has_value());
  CHECK(fs::exists(out / "result/profiles/bt-recto-2.icc"));
  REQUIRE(results.repeatability);
  CHECK(results.repeatability->from == "repeat scans");
  CHECK(results.repeatability->degrees_of_freedom == 3);
  CHECK(results.repeatability->u_dE00 > 0.005);
  CHECK(results.repeatability->u_dE00 < 0.5);
  for (const results::Region& region : results.regions) {
    INFO(region.id);
    const auto& [id, before] = region.stages.front();
    const auto& truth = sheet.truth.lab.at(region.id).at("BT");
    CHECK(ciede2000(before.lab, {truth[0], truth[1], truth[2]}) < 1.5);
  }

  // The same two scans as those of another sheet, and a region that nothing was done to.
  const std::string alone =
      replaced(sheet.toml, "\n[[stage]]\nid = \"RB\"\nrecto = \"scans/rb-recto.tif\"\n", "");
  const auto other = sheet.assess_as(
      alone + "\n[measure]\nrepeat = [\"scans/bt-recto.tif\", \"scans/rb-recto.tif\"]\n");
  REQUIRE(other.repeatability);
  CHECK(other.repeatability->from == "repeat scans of another sheet");
  CHECK(other.repeatability->files.size() == 2);
  CHECK(other.repeatability->u_dE00 == Approx(results.repeatability->u_dE00));
  CHECK(other.scans.size() == 2);

  const auto untouched = sheet.assess_as(
      replaced(alone, "role = \"paper\"\n", "role = \"paper\"\nuntouched = true\n"));
  REQUIRE(untouched.repeatability);
  CHECK(untouched.repeatability->from == "untouched regions");
  CHECK(region_of(untouched, "bare-paper").untouched);
  CHECK(region_of(untouched, "bare-paper").changes[0].warnings.empty());
  // One that did change after all is doubted, and every interval with it.
  const auto claimed = sheet.assess_as(replaced(alone, "id = \"added-red-on-paper\"\n",
                                                "id = \"added-red-on-paper\"\nuntouched = true\n"));
  CHECK(claimed.repeatability->u_dE00 > 1);
  const auto& warned = claimed.regions;
  CHECK(std::any_of(warned.begin(), warned.end(), [](const results::Region& region) {
    return region.untouched && said(region.changes[0].warnings, "Untouched, yet") == 1;
  }));
}

TEST_CASE("regions drawn after results were seen can be told") {
  const test::TemporaryFolder out;
  const fs::path folder = out / "result";
  const auto first = plain().assess_as(plain().toml, folder);
  CHECK(first.regions_stamp.sha256.size() == 64);
  CHECK(first.regions_stamp.modified.size() == 20);
  CHECK(first.regions_stamp.earlier.empty());
  const auto again = plain().assess_as(plain().toml + "\n# a remark\n", folder);
  CHECK(again.regions_stamp.sha256 == first.regions_stamp.sha256);
  CHECK(again.regions_stamp.modified == first.regions_stamp.modified);
  CHECK(said(again.warnings, "regions are not those") == 0);
  const auto moved =
      plain().assess_as(replaced(plain().toml, "id = \"cyan\"", "id = \"cyan-moved\""), folder);
  CHECK(moved.regions_stamp.sha256 != first.regions_stamp.sha256);
  REQUIRE(moved.regions_stamp.earlier.size() == 1);
  CHECK(moved.regions_stamp.earlier[0].first == first.regions_stamp.sha256);
  CHECK(said(moved.warnings, "regions are not those") == 1);
}
