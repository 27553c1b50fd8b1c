#include "tests/pipeline/kinds.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "simulate/random.hpp"
#include "simulate/simulate.hpp"

namespace inkwane::test {
namespace {

using simulate::Area;
using simulate::Scene;

/// The same scene with one thing changed.
std::function<Scene(std::uint64_t)> solids_with(
    const std::function<void(Scene&, std::uint64_t)>& change) {
  return [change](std::uint64_t seed) {
    Scene scene = simulate::solids_scene(seed);
    change(scene, seed);
    return scene;
  };
}

/// Everything on the sheet scaled about its top left, and turned so that x becomes y.
void lay_on_narrow_sheet(Scene& scene) {
  constexpr double kWidth = 60, kHeight = 90;
  const double scale = kWidth / scene.paper.height_mm;
  const auto turned = [scale](simulate::Polygon& polygon) {
    for (cv::Point2d& p : polygon) p = {p.y * scale, p.x * scale};
  };
  for (auto* side : {&scene.recto, &scene.verso}) {
    std::erase_if(*side, [](const Area& area) { return !area.text.words.empty(); });
    for (Area& area : *side) {
      turned(area.outline_mm);
      for (auto& hole : area.holes) turned(hole);
    }
    side->push_back(side->front());
    side->back() = {};
    side->back().ink = "black";
    side->back().outline_mm = {{5, 80}};
    side->back().text.words = "Sow thinly in drills\nfrom the middle of March";
    side->back().text.size_mm = 2.6;
  }
  for (auto& region : scene.regions) turned(region.outline_mm);
  scene.paper.width_mm = kWidth;
  scene.paper.height_mm = kHeight;
}

/// Thin lines of added colour on the bare paper of the sheet's lower edge, and their regions.
void draw_thin_lines(Scene& scene) {
  constexpr double kLineMm = 0.6;
  int n = 0;
  for (const char* ink : {"added-red", "added-blue", "added-green", "added-violet"}) {
    for (const double y : {47.6, 49.2}) {
      const double x = 6 + 15.5 * (n / 2);
      const simulate::Polygon line{{x, y}, {x + 12, y}, {x + 12, y + kLineMm}, {x, y + kLineMm}};
      Area area;
      area.outline_mm = line;
      area.ink = ink;
      area.amount = n % 2 == 0 ? 0.5 : 0.8;
      scene.recto.push_back(area);
      scene.regions.push_back({"line-" + std::to_string(++n), std::string("thin line, ") + ink,
                               "recto", "added", "paper", line});
    }
  }
  const auto paper = std::find_if(scene.regions.begin(), scene.regions.end(),
                                  [](const auto& region) { return region.id == "bare-paper"; });
  paper->outline_mm = {{71, 47}, {84, 47}, {84, 51}, {71, 51}};
}

/// Four steps of one length: added colours decay to a floor, inks fade. By thirds of the seeds: the
/// added colour still goes; it has come to its floor while the inks fade on; nothing moves any
/// more.
Scene followed_scene(std::uint64_t seed) {
  Scene scene = simulate::solids_scene(seed);
  simulate::Random random(seed, 21);
  scene.has_verso = false;
  std::erase_if(scene.regions, [](const auto& region) { return region.side == "verso"; });
  const double toning = scene.paper.toning["AT"];
  const auto laid_down = scene.deformation["AT"];
  scene.stages = {"BT", "DT1", "DT2", "DT3", "AT"};
  for (int step = 1; step <= 4; ++step) {
    const std::string& stage = scene.stages[static_cast<std::size_t>(step)];
    scene.paper.toning[stage] = toning * step / 4;
    scene.deformation[stage] = laid_down;
    scene.deformation[stage].rotation_deg = random.uniform(-1, 1);
    scene.deformation[stage].shift_x_mm = random.uniform(-1.5, 1.5);
    scene.steps[stage] = {{"bath", "water", kStepMinutes, ""}};
  }
  for (auto& [ink, fate] : scene.fates) {
    const bool added = scene.inks.at(ink).added;
    fate.bleeds_through.clear();
    double rate = 0, floor = 0;
    if (added) {
      rate = seed % 3 == 0 ? random.uniform(0.25, 0.5) : random.uniform(1.8, 3);
      floor = random.uniform(0.05, 0.25);
    } else {
      rate = seed % 3 == 0   ? random.uniform(0.005, 0.02)
             : seed % 3 == 1 ? random.uniform(0.06, 0.12)
                             : random.uniform(1.8, 3);
      floor = seed % 3 == 2 ? random.uniform(0.8, 0.95) : 0;
    }
    for (int step = 1; step <= 5; ++step) {
      const std::string stage =
          step == 5 ? kNextStage : scene.stages[static_cast<std::size_t>(step)];
      fate.kept[stage] = floor + (1 - floor) * std::exp(-rate * step);
    }
  }
  return scene;
}

std::vector<Kind> make_kinds() {
  std::vector<Kind> kinds{
      {"solids", "solids, Kubelka–Munk inks", simulate::solids_scene},
      {"solids-film", "solids, Beer–Lambert inks",
       solids_with([](Scene& s, std::uint64_t) { s.law = simulate::InkLaw::beer_lambert; })},
      {"unchanged", "nothing happened; scanned anew", simulate::unchanged_scene}};
  for (const int dpi : {300, 600}) {
    for (const int lpi : {65, 85, 133}) {
      kinds.push_back(
          {"screens-" + std::to_string(lpi) + "-" + std::to_string(dpi),
           std::to_string(lpi) + "-line screens at " + std::to_string(dpi) + " dpi",
           [lpi, dpi](std::uint64_t seed) { return simulate::screens_scene(seed, lpi, dpi); },
           dpi == 600 ? 2 : 1});
    }
  }
  kinds.push_back({"screens-film", "85-line screens, Beer–Lambert inks", [](std::uint64_t seed) {
                     Scene s = simulate::screens_scene(seed);
                     s.law = simulate::InkLaw::beer_lambert;
                     return s;
                   }});
  for (const auto& [shape, word] : {std::pair(simulate::DotShape::round, "round"),
                                    std::pair(simulate::DotShape::elliptical, "elliptical")}) {
    kinds.push_back({std::string("screens-") + word,
                     std::string("85-line screens, ") + word + " dots",
                     [shape = shape](std::uint64_t seed) {
                       Scene s = simulate::screens_scene(seed);
                       for (Area& area : s.recto) area.dot = shape;
                       return s;
                     }});
  }
  const auto add = [&kinds](const char* name, const char* what,
                            const std::function<void(Scene&, std::uint64_t)>& change,
                            int share = 1) {
    kinds.push_back({name, what, solids_with(change), share});
  };
  add("stretch", "stretched 1 % across the grain, cockled by 0.5 mm", [](Scene& s, std::uint64_t) {
    s.deformation["AT"].stretch_x = 1.01;
    s.deformation["AT"].cockle_mm = 0.5;
  });
  add("drift-8-bit", "drifting scanner, 8 bit", [](Scene& s, std::uint64_t) {
    s.scanner.drift = 0.7;  // at 1 the greys of some scans move by more than 8, which is refused
    s.scanner.bit_depth = 8;
  });
  add("jpeg", "JPEG, quality 92", [](Scene& s, std::uint64_t) {
    s.scanner.bit_depth = 8;
    s.scanner.jpeg = true;
  });
  add("no-profile", "no embedded profile",
      [](Scene& s, std::uint64_t) { s.scanner.embed_profile = false; });
  add("veil", "additive stray light, 3 % with 20 mm reach", [](Scene& s, std::uint64_t) {
    s.scanner.veil = 0.03;
    s.scanner.veil_mm = 20;
  });
  add("flare", "multiplicative stray light, κ 0.26 and ℓ 4 mm", [](Scene& s, std::uint64_t) {
    s.scanner.flare_kappa = 0.26;
    s.scanner.flare_mm = 4;
  });
  kinds.push_back(kinds.back());
  kinds.back().name = "flare-card";
  kinds.back().what += ", measured on the scanner's card";
  kinds.back().scanner = ScannerFile::card;
  for (const auto& [ending, word, scanner] :
       {std::tuple("left", "left as it is", ScannerFile::left_alone),
        std::tuple("scans", "told from the scans", ScannerFile::none),
        std::tuple("card", "measured on the scanner's card", ScannerFile::card)}) {
    kinds.push_back(
        {std::string("neighbours-") + ending,
         std::string("unchanged places beside faded ones; stray light as above, ") + word,
         [](std::uint64_t seed) {
           Scene s = simulate::neighbours_scene(seed);
           s.scanner.flare_kappa = 0.26;
           s.scanner.flare_mm = 4;
           return s;
         },
         1, scanner});
  }
  add("gradient", "illumination falls by 3 % across the bed",
      [](Scene& s, std::uint64_t) { s.scanner.gradient = 0.03; });
  add("soiled-patch", "one patch of the target soiled",
      [](Scene& s, std::uint64_t seed) { s.soiled_patch = static_cast<int>(seed * 7 % 24); });
  add("turned-target", "target at each quarter turn, tilted by up to 3°",
      [](Scene& s, std::uint64_t seed) {
        s.target_turn_deg =
            90.0 * static_cast<double>(seed % 4) + static_cast<double>(seed % 7) - 3;
      });
  add("target-10x12", "a target of 10 × 12 patches", [](Scene& s, std::uint64_t) {
    s.target_rows = 10;
    s.target_columns = 12;
  });
  add("target-3x4", "a target of 3 × 4 patches", [](Scene& s, std::uint64_t) {
    s.target_rows = 3;
    s.target_columns = 4;
  });
  add(
      "target-15x20", "a target of 15 × 20 patches",
      [](Scene& s, std::uint64_t) {
        s.target_rows = 15;
        s.target_columns = 20;
      },
      6);
  add("thin-lines", "added lines 0.6 mm wide", [](Scene& s, std::uint64_t) { draw_thin_lines(s); });
  kinds.push_back({"undeclared", "six touches that no region names, on solids",
                   [](std::uint64_t seed) { return simulate::undeclared_scene(seed); }});
  kinds.push_back({"undeclared-screens", "six touches that no region names, among screens",
                   [](std::uint64_t seed) { return simulate::undeclared_scene(seed, true); }});
  kinds.push_back({"undeclared-film", "six touches that no region names, Beer–Lambert inks",
                   [](std::uint64_t seed) {
                     Scene s = simulate::undeclared_scene(seed);
                     s.law = simulate::InkLaw::beer_lambert;
                     return s;
                   }});
  kinds.push_back({"undeclared-before", "the same six touches, before anything was done",
                   [](std::uint64_t seed) {
                     Scene s = simulate::undeclared_scene(seed);
                     s.stages = {"BT"};
                     return s;
                   }});
  kinds.push_back({"tidelines", "tide marks on both sides", simulate::tidelines_scene});
  add("bleeding", "two added colours and a printing ink came through",
      [](Scene& s, std::uint64_t seed) {
        const double more = 0.002 * static_cast<double>(seed % 5);
        s.fates["added-blue"].bleeds_through["AT"] = 0.008 + more;
        s.fates["green"].bleeds_through["AT"] = 0.016 - more;
      });
  add("narrow-sheet", "a sheet of 60 × 90 mm",
      [](Scene& s, std::uint64_t) { lay_on_narrow_sheet(s); });
  add(
      "wide-sheet", "a sheet of 400 × 300 mm",
      [](Scene& s, std::uint64_t) {
        s.paper.width_mm = 400;
        s.paper.height_mm = 300;
      },
      6);
  kinds.push_back({"course", "five stages, added colours and inks that decay", followed_scene, 2});
  return kinds;
}

}  // namespace

const std::vector<Kind>& kinds() {
  static const std::vector<Kind> all = make_kinds();
  return all;
}

}  // namespace inkwane::test
