// Protects: stray light of a scanner, from the scan of its card to the results: a faded neighbour
// does not make an unchanged place look changed, and where there is no stray light nothing is made
// worse. Bars: docs/method.md, "Stray light".
#include <catch2/catch.hpp>

#include <inkwane/assess.hpp>

#include "tests/pipeline/score.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using test::quantile;
using test::ScannerFile;

namespace {

simulate::Scene neighbours(std::uint64_t seed, double kappa) {
  auto scene = simulate::neighbours_scene(seed);
  scene.scanner.dpi = 150;
  scene.scanner.flare_kappa = kappa;
  return scene;
}

results::Results assessed(const simulate::Scene& scene, ScannerFile scanner,
                          const test::TemporaryFolder& folder) {
  (void)simulate::write_scene(scene, folder / "scene");
  test::write_scanner_file(scene, scanner, folder / "scene");
  AssessOptions options;
  options.output = folder / "out";
  return assess(read_treatment(folder / "scene" / "treatment.toml"), options);
}

}  // namespace

TEST_CASE("the card takes the false change beside faded places off") {
  const auto scene = neighbours(11, 0.26);
  const auto false_change = [&scene](ScannerFile scanner) {
    const test::TemporaryFolder folder;
    const test::Scores scores = test::score_scene(scene, folder.path(), {}, scanner);
    REQUIRE(scores.false_change.values.size() >= 9);
    const auto& held = scores.covered.at("dE00");
    CHECK(std::count(held.begin(), held.end(), true) >=
          static_cast<std::ptrdiff_t>(held.size()) - 1);
    return quantile(scores.false_change, 0.5);
  };
  const double left = false_change(ScannerFile::left_alone);
  const double by_scans = false_change(ScannerFile::none);
  const double by_card = false_change(ScannerFile::card);
  CAPTURE(left, by_scans, by_card);
  CHECK(left > 0.2);  // there is something to take off
  CHECK(by_scans < left / 2.5);
  CHECK(by_card < left / 5);
}

TEST_CASE("what was taken off is in the results") {
  const test::TemporaryFolder folder;
  const auto results = assessed(neighbours(12, 0.26), ScannerFile::card, folder);
  const results::StrayLight& stray = results.stray_light;
  CHECK(stray.source == results::StrayLight::Source::card);
  CHECK(stray.file.ends_with("scanner.toml"));
  CHECK(std::abs(stray.kappa - 0.26) < 2 * stray.u_kappa);
  CHECK(stray.u_kappa < 0.08);
}

TEST_CASE("a scanner without stray light is left alone") {
  const test::TemporaryFolder folder;
  auto scene = simulate::solids_scene(13);
  scene.scanner.dpi = 150;
  const auto results = assessed(scene, ScannerFile::none, folder);
  CHECK(results.stray_light.source == results::StrayLight::Source::none);
  CHECK(results.stray_light.kappa == 0);
  CHECK(results.stray_light.u_kappa > 0);
  CHECK(results.stray_light.u_kappa <= 0.26);
}
