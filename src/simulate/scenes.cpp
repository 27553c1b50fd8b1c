#include <array>
#include <initializer_list>

#include <fmt/format.h>

#include "simulate/forms.hpp"
#include "simulate/simulate.hpp"
#include "simulate/small_scene.hpp"

namespace inkwane::simulate {
Scene solids_scene(std::uint64_t seed) {
  Random random(seed, 8);
  Scene scene = small_scene(seed, random);
  struct Place {
    const char* ink;
    double x, y;
  };
  constexpr double kWidth = 12, kHeight = 10;
  for (const Place& place : std::initializer_list<Place>{{"red", 6, 6},
                                                         {"blue", 20, 6},
                                                         {"yellow", 34, 6},
                                                         {"green", 48, 6},
                                                         {"brown", 62, 6},
                                                         {"orange", 6, 19},
                                                         {"cyan", 20, 19}}) {
    scene.recto.push_back(
        solid(box(place.x, place.y, kWidth, kHeight), place.ink, random.uniform(0.6, 1.1)));
    scene.regions.push_back({place.ink, fmt::format("{} solid", place.ink), "recto", "ink", "",
                             box_inside(place.x, place.y, kWidth, kHeight)});
    set_kept(scene, place.ink, random.uniform(0.6, 1.0));
  }
  set_kept(scene, "black", random.uniform(0.9, 1.0));

  struct Touch {
    const char* ink;
    const char* under;
    double x, y;
  };
  // Over ink: the ink's field is printed larger, so that its own region lies beside the touch.
  scene.recto.push_back(solid(box(34, 19, 26, kHeight), "magenta", random.uniform(0.4, 0.7)));
  scene.regions.push_back(
      {"magenta", "magenta solid", "recto", "ink", "", box_inside(34, 19, 12, kHeight)});
  set_kept(scene, "magenta", random.uniform(0.7, 1.0));
  scene.recto.push_back(solid(box(62, 19, 24, kHeight), "yellow", random.uniform(0.6, 1.0)));
  scene.regions.push_back({"yellow-2", "yellow solid under the touch", "recto", "ink", "",
                           box_inside(62, 19, 11, kHeight)});
  for (const Touch& touch : std::initializer_list<Touch>{{"added-red", "paper", 6, 33},
                                                         {"added-blue", "paper", 22, 33},
                                                         {"added-green", "paper", 38, 33},
                                                         {"added-violet", "paper", 54, 33},
                                                         {"added-blue", "magenta", 47.5, 20},
                                                         {"added-red", "yellow-2", 74.5, 20}}) {
    const bool on_paper = std::string(touch.under) == "paper";
    const double width = on_paper ? 13 : 10.5, height = on_paper ? 11 : 8;
    scene.recto.push_back(
        solid(box(touch.x, touch.y, width, height), touch.ink, random.uniform(0.35, 0.8)));
    scene.regions.push_back({fmt::format("{}-on-{}", touch.ink, touch.under),
                             fmt::format("{} over {}", touch.ink, touch.under), "recto", "added",
                             touch.under, box_inside(touch.x, touch.y, width, height)});
    set_kept(scene, touch.ink, random.uniform(0.05, 0.5));
  }
  scene.fates["added-red"].bleeds_through["AT"] = random.uniform(0.006, 0.03);
  scene.regions.push_back(
      {"behind-red", "behind the red touch", "verso", "watch", "", box(73, 35, 8, 7)});
  return scene;
}

Scene screens_scene(std::uint64_t seed, double lpi, double dpi) {
  Random random(seed, 9);
  Scene scene = small_scene(seed, random);
  scene.scanner.dpi = dpi;
  const auto tint = [&](double x, double y, double w, const char* ink, double angle,
                        double coverage) {
    scene.recto.push_back(
        screened(box(x, y, w, 12), ink, lpi, angle + random.uniform(-2, 2), coverage));
  };
  struct Plate {
    const char* name;
    double angle;
  };
  constexpr std::array<Plate, 3> kPlates{{{"red", 45}, {"blue", 75}, {"yellow", 0}}};
  double x = 5;
  for (const Plate& ink : kPlates) {
    scene.recto.push_back(solid(box(x, 5, 12, 10), ink.name));
    scene.regions.push_back({fmt::format("{}-solid", ink.name), fmt::format("{} solid", ink.name),
                             "recto", "ink", "", box_inside(x, 5, 12, 10)});
    double left = x;
    for (const double about : {0.3, 0.6}) {
      tint(left, 17, 12, ink.name, ink.angle, about + random.uniform(-0.1, 0.1));
      scene.regions.push_back({fmt::format("{}-{}", ink.name, about < 0.5 ? "light" : "dark"),
                               fmt::format("{} screen", ink.name), "recto", "ink", "",
                               box_inside(left, 17, 12, 12)});
      left += 13.5;
    }
    set_kept(scene, ink.name, random.uniform(0.6, 1.0));
    x += 27.5;
  }
  set_kept(scene, "black", random.uniform(0.9, 1.0));
  tint(5, 32, 20, "yellow", 0, random.uniform(0.5, 0.8));
  tint(5, 32, 20, "blue", 75, random.uniform(0.3, 0.6));
  tint(28, 32, 20, "yellow", 0, random.uniform(0.4, 0.7));
  tint(28, 32, 20, "red", 45, random.uniform(0.2, 0.5));
  scene.regions.push_back(
      {"leaf", "green of two screens", "recto", "ink", "", box_inside(5, 32, 20, 12)});
  scene.regions.push_back(
      {"flesh", "orange of two screens", "recto", "ink", "", box_inside(28, 32, 20, 12)});
  scene.recto.push_back(solid(box(52, 33, 16, 10), "added-violet", 0.5));
  scene.regions.push_back(
      {"touch", "violet touch", "recto", "added", "paper", box_inside(52, 33, 16, 10)});
  set_kept(scene, "added-violet", random.uniform(0.05, 0.4));
  return scene;
}

Scene neighbours_scene(std::uint64_t seed) {
  Random random(seed, 10);
  Scene scene = small_scene(seed, random);
  scene.scanner.drift = 0;  // so that what is false comes from the neighbours
  scene.paper.toning.clear();
  std::erase_if(scene.recto, [](const Area& area) { return !area.text.words.empty(); });
  std::erase_if(scene.regions, [](const NamedRegion& region) { return region.id == "bare-paper"; });
  constexpr double kWidth = 26, kHeight = 28;
  int n = 0;
  for (const auto& [fading, within, beside] :
       {std::array{"red", "yellow", "green"}, std::array{"blue", "orange", "magenta"},
        std::array{"brown", "cyan", "yellow"}}) {
    const double x = 5.5 + 26.5 * n, y = 5.5;
    Area field = solid(box(x, y, kWidth, kHeight), fading);
    field.holes = {box(x + 3, y + 10, 8, 8), box(x + 15, y + 10, 8, 8)};
    scene.recto.push_back(field);
    set_kept(scene, fading, random.uniform(0.2, 0.4));
    scene.recto.push_back(solid(box(x + 3, y + 10, 8, 8), within, random.uniform(0.5, 0.9)));
    scene.recto.push_back(solid(box(x + 6, y + kHeight, 12, 8), beside, random.uniform(0.5, 0.9)));
    const std::string number = std::to_string(++n);
    const auto watch = [&](const std::string& id, const std::string& name, const Polygon& outline) {
      scene.regions.push_back({id + number, name, "recto", "watch", "", outline});
    };
    watch("within-", "unchanged ink within a faded field", box_inside(x + 3, y + 10, 8, 8));
    watch("paper-", "bare paper within a faded field", box_inside(x + 15, y + 10, 8, 8));
    watch("beside-", "unchanged ink beside a faded field", box_inside(x + 6, y + kHeight, 12, 8));
    scene.regions.push_back(
        {"faded-" + number, "faded field", "recto", "ink", "", box_inside(x, y, kWidth, 10)});
  }
  scene.regions.push_back({"bare-paper", "bare paper", "recto", "paper", "", box(8, 50, 70, 8)});
  return scene;
}

Scene unchanged_scene(std::uint64_t seed) {
  Scene scene = solids_scene(seed);
  scene.fates.clear();
  scene.paper.toning.clear();
  scene.deformation["AT"].stretch_x = scene.deformation["AT"].stretch_y = 1;
  scene.deformation["AT"].cockle_mm = 0;
  return scene;
}

}  // namespace inkwane::simulate
