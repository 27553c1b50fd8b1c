// Scenes with something on them that nobody named.
#include <algorithm>
#include <array>
#include <cmath>

#include "simulate/forms.hpp"
#include "simulate/simulate.hpp"
#include "simulate/small_scene.hpp"

namespace inkwane::simulate {
namespace {

constexpr std::array<const char*, 7> kAdded{"added-red",    "added-green", "added-blue",
                                            "added-violet", "added-brown", "added-orange",
                                            "added-yellow"};

/// The first of `kAdded` that show on every ink.
constexpr std::size_t kDark = 5;

/// A touch of one of the first `choice` added colours; its fate, unless it has one.
Area touch(Scene& scene, Random& random, Polygon outline, std::size_t choice) {
  const char* ink = kAdded[random.next() % choice];
  Area area = solid(std::move(outline), ink, random.uniform(0.3, 0.8));
  area.undeclared = true;
  if (!scene.fates.contains(ink)) set_kept(scene, ink, random.uniform(0.05, 0.5));
  return area;
}

}  // namespace

Scene undeclared_scene(std::uint64_t seed, bool screens) {
  Scene scene = screens ? screens_scene(seed) : solids_scene(seed);
  Random random(seed, 11);
  // Print that no region names, the same as elsewhere: not to be taken for a touch.
  const cv::Point2d plate(70, 33);
  scene.recto.push_back(screens ? screened(box(plate.x, plate.y, 15, 11), "blue", 85, 75, 0.4)
                                : solid(box(plate.x, plate.y, 15, 11), "orange", 0.8));
  const auto paint = [&](std::vector<Area>& side, Polygon outline,
                         std::size_t choice = kAdded.size()) {
    side.push_back(touch(scene, random, std::move(outline), choice));
  };
  const double turn = random.uniform(0, 180);
  paint(scene.recto, ellipse({79, 11}, 5, random.uniform(2, 4), turn));
  if (screens) {
    paint(scene.recto, ellipse({24.7, 10}, 3, 4));
  } else {
    paint(scene.recto, leaf({20, 31}, random.uniform(-4, 4), 16, random.uniform(1.8, 2.8)));
  }
  paint(scene.recto, ribbon({66, 49.5}, {75, 47}, {85, 49}, 1.2, 2.2));
  paint(scene.recto, ellipse(plate + cv::Point2d(7.5, 5.5), 4.5, 3, turn), kDark);
  paint(scene.recto, ellipse({30, 58}, 6, random.uniform(2, 3)));
  paint(scene.verso, ellipse({66, 45}, random.uniform(4, 7), 2.5));
  return scene;
}

Scene tidelines_scene(std::uint64_t seed) {
  Scene scene = solids_scene(seed);
  Random random(seed, 12);
  for (const char* side : kSideNames) {
    for (int i = 0; i < 3; ++i) {
      // A front of liquid that dried: part of a wavy ring, about a corner or through the sheet.
      TideMark mark;
      mark.side = side;
      mark.stage = scene.stages.back();
      mark.amount = random.uniform(0.03, 0.15);
      mark.width_mm = random.uniform(0.5, 1.2);
      const std::array<cv::Point2d, 3> centres{{{0, 70}, {90, 0}, {45, 35}}};
      const double radius = random.uniform(14, 24), lobes = std::floor(random.uniform(3, 7)),
                   phase = random.uniform(0, 6), depth = random.uniform(0.03, 0.1),
                   begin = random.uniform(0, 6.3), arc = i == 2 ? random.uniform(2, 4) : 6.3;
      for (int k = 0; k <= 120; ++k) {
        const double angle = begin + arc * k / 120;
        const double r = radius * (1 + depth * std::sin(lobes * angle + phase));
        const cv::Point2d p = centres[i] + r * cv::Point2d(std::cos(angle), std::sin(angle));
        const bool inside = p.x > 3 && p.y > 3 && p.x < 87 && p.y < 67;
        if (inside) mark.path_mm.push_back(p);
        if (!inside && mark.path_mm.size() > 15) break;
        if (!inside) mark.path_mm.clear();
      }
      if (mark.path_mm.size() > 15) scene.tide_marks.push_back(std::move(mark));
    }
  }
  return scene;
}

}  // namespace inkwane::simulate
