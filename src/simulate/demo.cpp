#include "simulate/demo.hpp"

#include "simulate/simulate.hpp"

namespace inkwane::simulate {
namespace {

// The record of the demo's treatment: invented, like the sheet.
constexpr const char* kObject =
    "maker = \"Unnamed colour printer\"\n"
    "owner = \"Marlow Vale Nurseries (invented)\"\n"
    "marks = \"None\"\n";

constexpr const char* kRecord = R"toml([record]
conservator = "The workshop (invented)"
purpose = "To take off water colour that was added to the print, for as long as the printing inks bear it."
condition_before = "Flat and sound. Water colour on the title's flourish, the pumpkin, the left margin and under the band. Faint toning along the edges."
past_treatment = "None known."
plan = "Spot tests on every ink and colour; one bath in dilute calcium hydroxide; rinse; dry under weight. Stop if a printing ink bleeds."
consent_by = "The owner"
consent_date = 2026-03-01

[[spot_test]]
medium = "red of the petals"
liquid = "calcium hydroxide, 0.4 g/L"
region = "petals"
ph = 11.9
dwell_minutes = 15
seen_on_sheet = "no change, wet or dry"
seen_on_blotter = "nothing"
when = 2026-03-02

[[spot_test]]
medium = "blue of the band"
liquid = "calcium hydroxide, 0.4 g/L"
region = "band"
ph = 11.9
dwell_minutes = 15
seen_on_sheet = "no change, wet or dry"
seen_on_blotter = "nothing"
when = 2026-03-02

[[spot_test]]
medium = "water colour of the flourish"
liquid = "calcium hydroxide, 0.4 g/L"
region = "flourish"
ph = 11.9
dwell_minutes = 15
seen_on_sheet = "lighter within two minutes"
seen_on_blotter = "plain red stain"
when = 2026-03-02
)toml";

}  // namespace

Scene demo_scene() {
  Scene scene;
  scene.title = "Seed catalogue, front cover, 1931";
  scene.identifier = "MVN-1931-01";
  scene.client = "Marlow Vale Nurseries (invented)";
  scene.description =
      "Letterpress in four colours with screens on cream wove paper; touched up later in red, "
      "blue, "
      "green and violet water colour.";
  scene.object = kObject;
  scene.record = kRecord;
  scene.seed = 1931;
  scene.stages = {"BT", "DT1", "AT"};
  scene.dates = {{"BT", "2026-03-02"}, {"DT1", "2026-03-06"}, {"AT", "2026-03-16"}};
  scene.notes = {{"DT1", "Dry, under weight for three days."},
                 {"AT", "Dry, under weight for a week."}};
  for (const auto& [stage, day] :
       {std::pair<std::string, std::string>("DT1", "2026-03-03"), {"AT", "2026-03-09"}}) {
    const std::string when = "  when = " + day + "\n";
    scene.steps[stage] = {
        {"bath", "calcium hydroxide", 45,
         when + "  stock_g_per_l = 1.6\n  stock_ml = 250\n  tray_ml = 1000\n"
                "  ph_in = 11.9\n  ph_out = 11.4\n  ph_method = \"meter\"\n"
                "  temperature_c = 20\n"
                "  seen = \"The bath turned pale red within ten minutes.\"\n"},
        {"rinse", "water", 20, when + "  changes = 2\n"},
        {"blotting", "", 0, when + "  number = 4\n  dwell_minutes = 10\n"},
        {"drying", "", 0, when + "  note = \"Between blotters, under weight.\"\n"}};
  }
  scene.paper.toning = {{"DT1", -0.08}, {"AT", -0.12}};
  scene.paper.show_through = 0.035;
  scene.scanner.drift = 0.5;
  scene.scanner.gradient = 0.01;
  scene.deformation["BT"] = {1, 1, 0, 0.4, 0.5, -0.5};
  scene.deformation["DT1"] = {1.0024, 1.0012, 0.2, 0.5, 0.8, 0.6};
  scene.deformation["AT"] = {1.0038, 1.0021, 0.2, -0.7, -1, 1.2};
  scene.target_turn_deg = 90;

  print_cover(scene);
  add_touches(scene);
  print_inside(scene);

  const auto kept = [&](const char* ink, double at_first, double at_last) {
    scene.fates[ink].kept = {{"DT1", at_first}, {"AT", at_last}};
  };
  kept("yellow", 0.91, 0.83);
  kept("orange", 0.94, 0.88);
  kept("red", 0.97, 0.94);
  kept("blue", 0.985, 0.97);
  kept("brown", 0.955, 0.91);
  kept("added-red", 0.36, 0.16);
  kept("added-blue", 0.31, 0.12);
  kept("added-green", 0.44, 0.22);
  kept("added-violet", 0.49, 0.28);
  scene.fates["added-red"].bleeds_through = {{"DT1", 0.014}, {"AT", 0.02}};
  scene.fates["added-violet"].bleeds_sideways = {{"DT1", 0.014}, {"AT", 0.02}};
  return scene;
}

}  // namespace inkwane::simulate
