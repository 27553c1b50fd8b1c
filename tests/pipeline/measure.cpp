// Prints how far the program is from the truth on seeded simulated scenes.
//
//   measure KIND [SCENES] [FOLDER]      kinds: solids, screens, unchanged, demo
#include <map>

#include <fmt/format.h>

#include "tests/pipeline/score.hpp"
#include "tests/support.hpp"

using namespace inkwane;

int main(int argc, char** argv) {
  const std::map<std::string, std::function<simulate::Scene(std::uint64_t)>> kinds{
      {"solids", [](std::uint64_t seed) { return simulate::solids_scene(seed); }},
      {"screens", [](std::uint64_t seed) { return simulate::screens_scene(seed); }},
      {"unchanged", [](std::uint64_t seed) { return simulate::unchanged_scene(seed); }},
      {"demo", [](std::uint64_t) { return simulate::demo_scene(); }}};
  const std::string kind = argc > 1 ? argv[1] : "";
  if (!kinds.contains(kind)) {
    fmt::print(stderr,
               "measure KIND [SCENES] [FOLDER]: KIND is solids, screens, unchanged or demo\n");
    return 2;
  }
  const int scenes = argc > 2 ? std::stoi(argv[2]) : 3;
  test::Scores all;
  for (int i = 0; i < scenes; ++i) {
    const test::TemporaryFolder own;
    const std::filesystem::path folder =
        argc > 3 ? std::filesystem::path(argv[3]) / fmt::format("{}-{}", kind, i + 1) : own.path();
    const test::Scores scores =
        test::score_scene(kinds.at(kind)(static_cast<std::uint64_t>(i) + 1), folder);
    if (scenes > 1) fmt::print("scene {}\n{}\n", i + 1, test::to_text(scores));
    all.add(scores);
  }
  fmt::print("{}, {} scenes\n{}", kind, scenes, test::to_text(all));
  return 0;
}
