// Protects: the whole program, from scans to maps, finds what a simulated treatment did, and
// nothing where nothing was done. Bars: docs/method.md, "Accuracy to reach"; a single scene has few
// regions, so that its worst case is held to the 95th percentile's bar.
#include <filesystem>
#include <fstream>
#include <iterator>
#include <set>

#include <catch2/catch.hpp>

#include <inkwane/assess.hpp>

#include "results/results.hpp"
#include "tests/pipeline/score.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using test::quantile;

namespace {

double held(const std::vector<bool>& covered) {
  return static_cast<double>(std::count(covered.begin(), covered.end(), true)) /
         static_cast<double>(covered.size());
}

std::string contents(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

TEST_CASE("a treatment of solids is measured as it was") {
  const test::TemporaryFolder folder;
  const test::Scores scores = test::score_scene(simulate::solids_scene(3), folder.path());
  INFO(test::to_text(scores));
  CHECK(quantile(scores.corners_px, 1) < 2);
  CHECK(quantile(scores.left_out, 1) < 0.8);
  REQUIRE(scores.lab.values.size() >= 20);
  CHECK(quantile(scores.lab, 0.5) < 0.6);
  CHECK(quantile(scores.lab, 1) < 1.5);
  CHECK(quantile(scores.dE00, 0.5) < 0.10);
  CHECK(quantile(scores.dE00, 1) < 0.40);
  REQUIRE(scores.strength.values.size() >= 5);
  CHECK(quantile(scores.strength, 0.5) < 0.02);
  CHECK(quantile(scores.strength, 1) < 0.05);
  REQUIRE(scores.residual.values.size() >= 3);
  CHECK(quantile(scores.residual, 0.5) < 0.03);
  CHECK(quantile(scores.residual, 1) < 0.07);
  CHECK(quantile(scores.alignment_mm, 0.5) < 0.02);
  CHECK(quantile(scores.alignment_mm, 0.95) < 0.06);
  CHECK(quantile(scores.difference, 0.5) < 0.10);
  CHECK(quantile(scores.difference, 0.95) < 0.40);
  CHECK(held(scores.covered.at("strength kept")) >= 0.9);
  CHECK(held(scores.covered.at("residual")) >= 0.9);
  CHECK(held(scores.covered.at("dE00")) >= 0.9);
  // Most of it did change, and is said to have.
  CHECK(scores.detectable >= scores.regions / 2);
}

TEST_CASE("a treatment of screens is measured as it was") {
  const test::TemporaryFolder folder;
  const test::Scores scores = test::score_scene(simulate::screens_scene(4), folder.path());
  INFO(test::to_text(scores));
  REQUIRE(scores.one_screen.values.size() == 6);
  CHECK(quantile(scores.one_screen, 0.5) < 0.02);
  CHECK(quantile(scores.one_screen, 1) < 0.05);
  REQUIRE(scores.two_screens.values.size() == 2);
  CHECK(quantile(scores.two_screens, 0.5) < 0.03);
  CHECK(quantile(scores.two_screens, 1) < 0.07);
  // Solids and screens together: of the four solids alone one miss would be a quarter.
  std::vector<bool> strengths;
  for (const char* kind : {"strength kept", "one screen", "two screens"}) {
    const auto& some = scores.covered.at(kind);
    strengths.insert(strengths.end(), some.begin(), some.end());
  }
  REQUIRE(strengths.size() == 12);
  CHECK(held(strengths) >= 0.9);
  CHECK(quantile(scores.half_width.at("one screen"), 0.5) < 0.2);
}

TEST_CASE("screens of film inks lie within their intervals") {
  const test::TemporaryFolder folder;
  auto scene = simulate::screens_scene(5, 133);
  scene.law = simulate::InkLaw::beer_lambert;
  const test::Scores scores = test::score_scene(scene, folder.path());
  INFO(test::to_text(scores));
  REQUIRE(scores.one_screen.values.size() == 6);
  REQUIRE(scores.two_screens.values.size() == 2);
  CHECK(held(scores.covered.at("one screen")) >= 0.9);
  CHECK(held(scores.covered.at("two screens")) >= 0.9);
}

TEST_CASE("a screen in a JPEG is seen but not measured") {
  const test::TemporaryFolder folder;
  auto scene = simulate::screens_scene(6);
  scene.scanner.jpeg = true;
  (void)simulate::write_scene(scene, folder / "scene");
  AssessOptions options;
  options.output = folder / "out";
  const auto results = assess(read_treatment(folder / "scene" / "treatment.toml"), options);
  for (const results::Region& region : results.regions) {
    if (region.role != Role::ink) continue;
    const bool screened = region.id.ends_with("-light") || region.id.ends_with("-dark") ||
                          region.id == "leaf" || region.id == "flesh";
    INFO(region.id);
    CHECK(region.screens.empty() != screened);
    CHECK(region.changes[0].strength_kept.has_value() != screened);
    if (screened) CHECK_FALSE(region.changes[0].warnings.empty());
  }
}

TEST_CASE("an unchanged sheet, laid down and scanned anew, has not changed") {
  const test::TemporaryFolder folder;
  const test::Scores scores = test::score_scene(simulate::unchanged_scene(7), folder.path());
  INFO(test::to_text(scores));
  CHECK(scores.detectable == 0);
  REQUIRE_FALSE(scores.share_above_2.values.empty());
  CHECK(quantile(scores.share_above_2, 1) <= 0.001);
  CHECK(quantile(scores.strength, 1) < 0.02);
}

TEST_CASE("the number of threads changes no byte of the results") {
  const test::TemporaryFolder folder;
  auto scene = simulate::solids_scene(5);
  scene.scanner.dpi = 150;
  (void)simulate::write_scene(scene, folder / "scene");
  const Treatment treatment = read_treatment(folder / "scene" / "treatment.toml");
  std::vector<std::string> texts;
  for (const int threads : {1, 2, 8}) {
    AssessOptions options;
    options.output = folder / ("out-" + std::to_string(threads));
    options.threads = threads;
    (void)assess(treatment, options);
    std::string all;  // every file, in order
    std::set<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(options.output))
      if (entry.is_regular_file()) files.insert(entry.path());
    for (const auto& file : files) all += file.filename().string() + contents(file);
    texts.push_back(std::move(all));
  }
  REQUIRE(texts[0].size() > 100'000);
  CHECK(texts[0] == texts[1]);
  CHECK(texts[0] == texts[2]);
}
