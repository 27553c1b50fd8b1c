#include "simulate/small_scene.hpp"

#include <fmt/format.h>

#include "simulate/forms.hpp"

namespace inkwane::simulate {
namespace {

constexpr const char* kCopy =
    "Sow thinly in drills from the middle of March, in a warm and sheltered border. "
    "Draw the earth to the stems as they rise, and thin the rows by degrees until the "
    "plants stand a span apart. Our growers recommend a second sowing at the end of May.";

}  // namespace

Scene small_scene(std::uint64_t seed, Random& random) {
  Scene scene;
  scene.title = fmt::format("Simulated sheet {}", seed);
  scene.identifier = fmt::format("SIM-{}", seed);
  scene.seed = seed;
  scene.paper.width_mm = 90;
  scene.paper.height_mm = 70;
  scene.paper.toning["AT"] = random.uniform(-0.25, 0.05);
  scene.scanner.drift = 0.5;
  scene.deformation["BT"] = {
      1, 1, 0, random.uniform(-0.6, 0.6), random.uniform(-1, 1), random.uniform(-1, 1)};
  scene.deformation["AT"] = {
      1 + random.uniform(0.001, 0.005), 1 + random.uniform(0, 0.003), 0.25, random.uniform(-1, 1),
      random.uniform(-1.5, 1.5),        random.uniform(-1.5, 1.5)};

  const auto type = [](cv::Point2d at, double size_mm, double width_mm) {
    return lettering(at, kCopy, size_mm, "DejaVu Serif", Text::Align::left, width_mm);
  };
  scene.recto.push_back(line(box(3, 3, 84, 64), "black", 0.5));
  scene.recto.push_back(type({6, 53}, 2.2, 78));
  scene.verso.push_back(type({7, 8}, 2.4, 36));
  scene.verso.push_back(type({48, 8}, 2.4, 36));
  scene.verso.push_back(solid(box(50, 50, 30, 12), "brown", 0.6));
  scene.regions.push_back({"bare-paper", "bare paper", "recto", "paper", "", box(5, 47, 60, 4)});
  scene.regions.push_back(
      {"bare-paper-verso", "bare paper", "verso", "paper", "", box(8, 47, 34, 14)});
  scene.regions.push_back(
      {"plate-verso", "brown of the verso", "verso", "ink", "", box_inside(50, 50, 30, 12)});
  return scene;
}

void set_kept(Scene& scene, const std::string& ink, double kept) {
  for (const auto& stage : scene.stages) {
    if (stage != scene.stages.front()) scene.fates[ink].kept[stage] = kept;
  }
}

}  // namespace inkwane::simulate
