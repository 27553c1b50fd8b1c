// Prints how far the program is from the truth on seeded simulated scenes of one kind.
//
//   measure KIND [SCENES] [FOLDER]
#include <algorithm>

#include <fmt/format.h>

#include "tests/pipeline/kinds.hpp"
#include "tests/pipeline/score.hpp"
#include "tests/support.hpp"

using namespace inkwane;

int main(int argc, char** argv) {
  std::vector<test::Kind> kinds = test::kinds();
  kinds.push_back({"demo", "the demo", [](std::uint64_t) { return simulate::demo_scene(); }});
  const std::string name = argc > 1 ? argv[1] : "";
  const auto kind = std::find_if(kinds.begin(), kinds.end(),
                                 [&name](const test::Kind& k) { return k.name == name; });
  if (kind == kinds.end()) {
    fmt::print(stderr, "measure KIND [SCENES] [FOLDER]; KIND is one of:\n");
    for (const test::Kind& k : kinds) fmt::print(stderr, "  {:<16} {}\n", k.name, k.what);
    return 2;
  }
  const int scenes = argc > 2 ? std::stoi(argv[2]) : 3;
  test::Scores all;
  for (int i = 0; i < scenes; ++i) {
    const test::TemporaryFolder own;
    const std::filesystem::path folder =
        argc > 3 ? std::filesystem::path(argv[3]) / fmt::format("{}-{}", name, i + 1) : own.path();
    const test::Scores scores = test::score_scene(kind->scene(static_cast<std::uint64_t>(i) + 1),
                                                  folder, {}, kind->scanner);
    if (scenes > 1) fmt::print("scene {}\n{}\n", i + 1, test::to_text(scores));
    all.add(scores);
  }
  fmt::print("{}, {} scenes\n{}", name, scenes, test::to_text(all));
  return 0;
}
