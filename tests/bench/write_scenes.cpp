// The benchmark's input: the demo's sheet, both sides, before and after treatment.
//
//   bench_scenes FOLDER DPI      4 scans of 16 bits, deflate: 26 million pixels each at 482 dpi
//   bench_scenes FOLDER DPI small      a small sheet in solids instead (90 × 70 mm)
#include <cstdlib>
#include <exception>
#include <string_view>

#include <fmt/format.h>

#include "simulate/simulate.hpp"

using namespace inkwane;

int main(int argc, char** argv) {
  if (argc < 3) {
    fmt::print(stderr, "bench_scenes FOLDER DPI [small]\n");
    return 2;
  }
  try {
    const bool small = argc > 3 && std::string_view(argv[3]) == "small";
    simulate::Scene scene = small ? simulate::solids_scene(1) : simulate::demo_scene();
    scene.scanner.dpi = std::atof(argv[2]);
    scene.stages = {scene.stages.front(), scene.stages.back()};
    simulate::write_scene(scene, argv[1]);
  } catch (const std::exception& error) {
    fmt::print(stderr, "{}\n", error.what());
    return 1;
  }
  return 0;
}
