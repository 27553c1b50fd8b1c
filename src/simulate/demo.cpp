#include "simulate/demo.hpp"

#include "simulate/simulate.hpp"

namespace inkwane::simulate {

Scene demo_scene() {
  Scene scene;
  scene.title = "Seed catalogue, front cover, 1931";
  scene.identifier = "MVN-1931-01";
  scene.client = "Marlow Vale Nurseries (invented)";
  scene.description =
      "Letterpress in four colours with screens on cream wove paper; touched up later in red, "
      "blue, "
      "green and violet water colour.";
  scene.seed = 1931;
  scene.dates = {{"BT", "2026-03-02"}, {"AT", "2026-03-11"}};
  scene.notes = {{"AT", "Dry, under weight for a week."}};
  scene.steps["AT"] = {{"bath", "calcium hydroxide, dilute", 45},
                       {"rinse", "water", 20},
                       {"blotting", "", 0},
                       {"drying", "", 0}};
  scene.paper.toning["AT"] = -0.12;
  scene.paper.show_through = 0.035;
  scene.scanner.drift = 0.5;
  scene.scanner.gradient = 0.01;
  scene.deformation["BT"] = {1, 1, 0, 0.4, 0.5, -0.5};
  scene.deformation["AT"] = {1.0038, 1.0021, 0.2, -0.7, -1, 1.2};
  scene.target_turn_deg = 90;

  print_cover(scene);
  add_touches(scene);
  print_inside(scene);

  const auto kept = [&](const char* ink, double share) { scene.fates[ink].kept["AT"] = share; };
  kept("yellow", 0.83);
  kept("orange", 0.88);
  kept("red", 0.94);
  kept("blue", 0.97);
  kept("brown", 0.91);
  kept("added-red", 0.16);
  kept("added-blue", 0.12);
  kept("added-green", 0.22);
  kept("added-violet", 0.28);
  scene.fates["added-red"].bleeds_through["AT"] = 0.02;
  scene.fates["added-violet"].bleeds_sideways["AT"] = 0.02;
  return scene;
}

}  // namespace inkwane::simulate
