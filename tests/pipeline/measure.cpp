// Prints how far the program is from the truth on seeded simulated scenes.
//
//   measure KIND [SCENES] [FOLDER] [--first SEED] [--lpi N] [--dpi N] [--dot SHAPE]
//     [--film] [--jpeg] [--spread MM]
#include <map>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "tests/pipeline/score.hpp"
#include "tests/support.hpp"

using namespace inkwane;

int main(int argc, char** argv) {
  CLI::App app("Prints how far the program is from the truth on seeded simulated scenes.");
  std::string kind, folder;
  int scenes = 3, first = 1;
  double lpi = 85, dpi = 300;
  double spread = 0.05;
  bool film = false, jpeg = false;
  simulate::DotShape dot = simulate::DotShape::chequer;
  app.add_option("kind", kind, "solids, screens, unchanged or demo")
      ->required()
      ->check(CLI::IsMember({"solids", "screens", "unchanged", "demo"}));
  app.add_option("scenes", scenes, "how many scenes");
  app.add_option("folder", folder, "where to keep them");
  app.add_option("--first", first, "seed of the first scene");
  app.add_option("--lpi", lpi, "ruling of the screens");
  app.add_option("--dpi", dpi, "resolution of the scans of screens");
  app.add_option("--spread", spread, "of light in the paper, mm");
  app.add_flag("--jpeg", jpeg, "scans are JPEG, 8 bit");
  app.add_flag("--film", film, "inks are films on the paper");
  app.add_option("--dot", dot, "shape of the dots")
      ->transform(CLI::CheckedTransformer(std::map<std::string, simulate::DotShape>{
          {"chequer", simulate::DotShape::chequer},
          {"round", simulate::DotShape::round},
          {"elliptical", simulate::DotShape::elliptical}}));
  CLI11_PARSE(app, argc, argv);

  const auto make = [&](std::uint64_t seed) {
    if (kind == "demo") return simulate::demo_scene();
    simulate::Scene scene = kind == "solids"      ? simulate::solids_scene(seed)
                            : kind == "unchanged" ? simulate::unchanged_scene(seed)
                                                  : simulate::screens_scene(seed, lpi, dpi);
    if (film) scene.law = simulate::InkLaw::beer_lambert;
    scene.paper.spread_mm = spread;
    scene.scanner.jpeg = jpeg;
    for (simulate::Area& area : scene.recto) area.dot = dot;
    return scene;
  };
  test::Scores all;
  for (int i = 0; i < scenes; ++i) {
    const test::TemporaryFolder own;
    const std::filesystem::path place =
        folder.empty() ? own.path()
                       : std::filesystem::path(folder) / fmt::format("{}-{}", kind, i + 1);
    const test::Scores scores =
        test::score_scene(make(static_cast<std::uint64_t>(first + i)), place);
    if (scenes > 1) fmt::print("scene {}\n{}\n", first + i, test::to_text(scores));
    all.add(scores);
  }
  fmt::print("{}, {} scenes\n{}", kind, scenes, test::to_text(all));
  return 0;
}
